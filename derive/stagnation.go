package derive

// StagnationRise is what a gas that is stopped warms by, c²/(2 cp) in K, with its speed c in m/s and cp in kJ/(kg·K): total less static
// temperature, which a probe in the stream reads part of (a textbook's definition).
func StagnationRise(speed, cp float64) float64 { return speed * speed / (2000 * cp) }
