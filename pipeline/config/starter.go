package config

import _ "embed" // For the starter files.

// The files that a new lake's config folder begins with: every entry commented out.
var (
	//go:embed starter/lake.yaml
	LakeYAML string
	//go:embed starter/vehicles.yaml
	VehiclesYAML string
	//go:embed starter/dynos.yaml
	DynosYAML string
	//go:embed starter/limits.yaml
	LimitsYAML string
	//go:embed starter/columns.yaml
	ColumnsYAML string
)

// Starters gives the starter files by name.
func Starters() map[string]string {
	return map[string]string{"lake.yaml": LakeYAML, "vehicles.yaml": VehiclesYAML, "dynos.yaml": DynosYAML, "limits.yaml": LimitsYAML, "columns.yaml": ColumnsYAML}
}
