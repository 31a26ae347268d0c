package app

// Visit is one request that came over the network.
type Visit struct {
	Token     string // that it brought; "" where it brought none
	Operation string // its ID
	Study     string // its folder, as the address says it; "" where it is about none
	From      string // the address that it came from, without port
}

// Stranger is the [Caller].Device of whoever came over the network and is no
// device of the list: never the zero Caller, who is the laptop itself.
const Stranger = "stranger"
