package channel

// Procedures are what a session may be. A warm one is the control of the cold
// one of its name.
var Procedures = []string{"cold-charge", "warm-charge", "cabin-warmup", "cold-drive", "warm-drive", "standby"}
