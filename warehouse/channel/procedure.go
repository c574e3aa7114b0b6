package channel

// Procedures are what a session may be.
var Procedures = []string{"cold-charge", "warm-charge", "cabin-warmup", "cold-drive", "standby"}
