package pipeline

import (
	"math"

	"dynolake/pipeline/config"
	"dynolake/pipeline/mapping"
	"dynolake/schema"
)

// Recipe is the configuration that runs are made with.
type Recipe struct {
	Config config.Config
	Rules  mapping.Rules
	can    canBus
}

// LoadRecipe reads a lake's config folder. Errors begin with file:line:column.
func LoadRecipe(dir string) (Recipe, error) {
	c, err := config.Load(dir)
	if err != nil {
		return Recipe{}, err
	}
	rules, err := mapping.LoadRules(mappingsDir(dir))
	if err != nil {
		return Recipe{}, err
	}
	can, err := loadCAN(dir)
	return Recipe{Config: c, Rules: rules, can: can}, err
}

// Starters gives the texts that a new lake's config folder begins with, by their path in it.
func Starters() map[string]string {
	files := config.Starters()
	files["mappings/example.yaml"] = mapping.StarterYAML
	return files
}

// entries finds the run's vehicle and dyno, nil where they are not listed, and fills in what they say of the run.
func (r *Recipe) entries(data *schema.RunData) (*schema.Vehicle, *schema.Dyno) {
	run, nan := &data.Run, math.NaN()
	doubt := func(code, text string) {
		data.Findings = append(data.Findings, schema.Finding{Severity: schema.Doubt, Code: code, Text: text, Value: nan, T0S: nan, T1S: nan})
	}
	var vehicle *schema.Vehicle
	if run.Vehicle != "" {
		v, listed := r.Config.Vehicle(run.Vehicle)
		run.Vehicle, run.Platform, run.Duty = v.ID, v.Platform, v.Duty
		vehicle = &v.Vehicle
		if !listed {
			doubt("vehicle_unknown", "vehicle "+run.Vehicle+" is not in vehicles.yaml: no platform, gear ratio or displacement is known; add an entry")
		}
	}
	var dyno *schema.Dyno
	if run.Dyno != "" {
		d, listed := r.Config.Dyno(run.Dyno)
		if listed {
			dyno = &d.Dyno
			run.DynoKind = d.Kind
			if d.ID == "" {
				run.Dyno = ""
			}
		} else {
			doubt("dyno_unknown", "dyno "+run.Dyno+" is not in dynos.yaml and no kind (inertia, brake, none): add an entry")
		}
	}
	return vehicle, dyno
}
