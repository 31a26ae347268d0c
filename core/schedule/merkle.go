package schedule

import (
	"crypto/sha256"
	"errors"
)

// Hash is a SHA-256.
type Hash [sha256.Size]byte

// ErrProof is returned for a trial that is not what was sealed.
var ErrProof = errors.New("not what was sealed")

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

// merklePath is what a leaf needs to come to the root (RFC 9162, section
// 2.1.3.1), the leaf's neighbour first.
func merklePath(leaves [][]byte, i int) []Hash {
	if len(leaves) < 2 {
		return nil
	}
	k := split(len(leaves))
	if i < k {
		return append(merklePath(leaves[:k], i), merkleRoot(leaves[k:]))
	}
	return append(merklePath(leaves[k:], i-k), merkleRoot(leaves[:k]))
}

// rootOf follows a path from leaf i of n to the root (RFC 9162, section
// 2.1.3.2); false where the path has another length than such a leaf's.
func rootOf(leaf []byte, i, n int, path []Hash) (Hash, bool) {
	if i < 0 || i >= n {
		return Hash{}, false
	}
	if n == 1 {
		return leafHash(leaf), len(path) == 0
	}
	if len(path) == 0 {
		return Hash{}, false
	}
	k, top := split(n), path[len(path)-1]
	if i < k {
		below, ok := rootOf(leaf, i, k, path[:len(path)-1])
		return nodeHash(below, top), ok
	}
	below, ok := rootOf(leaf, i-k, n-k, path[:len(path)-1])
	return nodeHash(top, below), ok
}
