package procedures

// Order is the name of the pattern in which several fasteners are tightened.
type Order string
