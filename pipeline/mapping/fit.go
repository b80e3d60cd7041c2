package mapping

import (
	"dynolake/schema"
)

// defaultDensity is the density of diesel in kg/L where the vehicle states none: common practice, no source.
const defaultDensity = 0.835

// conversion turns logged numbers into stored ones: logged*scale + offset.
type conversion struct {
	scale, offset float64
	density       bool // A volume became a mass through the fuel's density.
}

// fit gives the conversion of a unit into a column's, and false where the quantities differ. A volume of fuel becomes a mass
// with the density in kg/L (mg/mm³ is the same number).
func fit(col schema.Column, u schema.Unit, density float64) (conversion, bool) {
	to, ok := schema.ParseUnit(col.Unit)
	if !ok {
		return conversion{}, false
	}
	switch {
	case u.Quantity == to.Quantity:
		return conversion{scale: u.Factor / to.Factor, offset: (u.Offset - to.Offset) / to.Factor}, true
	case col.Name == "fuel_kg_h" && u.Quantity == "volume flow":
		return conversion{scale: u.Factor * density / to.Factor, density: true}, true
	case col.Name == "inj_mg" && u.Quantity == "volume per stroke":
		return conversion{scale: u.Factor * density, density: true}, true
	case col.Quantity == "ratio" && col.Kind == schema.State && u.Quantity == "percentage":
		return conversion{scale: u.Factor / 100}, true
	}
	return conversion{}, false
}

// dimensionless reports whether a unit says only that there is none: on a percentage it settles nothing.
func dimensionless(u schema.Unit) bool { return u.Quantity == "ratio" && u.Factor == 1 }

// Context is what is known of a run beside its logs.
type Context struct {
	Sheet   schema.Sheet
	Vehicle *schema.Vehicle // nil when not known.
}

func (c Context) vehicle() string {
	if c.Vehicle != nil {
		return c.Vehicle.ID
	}
	return c.Sheet.Vehicle
}

// density is the fuel's, and whence it is. An entry that states none has that of diesel.
func (c Context) density() (float64, string) {
	if c.Vehicle != nil && c.Vehicle.FuelDensityKgL > 0 && c.Vehicle.FuelDensityKgL != defaultDensity {
		return c.Vehicle.FuelDensityKgL, "stated for the vehicle"
	}
	return defaultDensity, "taken for diesel, since the vehicle states no other"
}
