package schedule

import "crypto/sha256"

// Hash is a SHA-256.
type Hash [sha256.Size]byte

// leafHash and nodeHash are those of RFC 9162, section 2.1.1: a leaf cannot
// pass for a node.
func leafHash(data []byte) Hash { return sha256.Sum256(append([]byte{0}, data...)) }

func nodeHash(left, right Hash) Hash {
	return sha256.Sum256(append(append([]byte{1}, left[:]...), right[:]...))
}

// split is the largest power of two below n.
func split(n int) int {
	k := 1
	for 2*k < n {
		k *= 2
	}
	return k
}

// merkleRoot is the Merkle tree hash of leaves (RFC 9162, section 2.1.1); of none
// it is the SHA-256 of nothing.
func merkleRoot(leaves [][]byte) Hash {
	switch len(leaves) {
	case 0:
		return sha256.Sum256(nil)
	case 1:
		return leafHash(leaves[0])
	}
	k := split(len(leaves))
	return nodeHash(merkleRoot(leaves[:k]), merkleRoot(leaves[k:]))
}
