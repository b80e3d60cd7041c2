package config

import (
	"math"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// doubt records what could be used but looks wrong.
func (c *Config) doubt(at entry.Position, code, channel, text string) {
	source := at.File
	if at.Line > 0 {
		text = at.String() + ": " + text
	}
	c.Findings = append(c.Findings, schema.Finding{
		Source: source, Severity: schema.Doubt, Code: code, Channel: channel, Text: text, Value: math.NaN(), T0S: math.NaN(), T1S: math.NaN(),
	})
}
