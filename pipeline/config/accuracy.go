package config

import (
	"fmt"
	"strconv"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// sensors are the columns whose accuracy can be stated: what is measured and may be interpolated.
func sensors() []string {
	var names []string
	for _, c := range schema.Columns() {
		if !c.Derived && c.Kind == schema.Continuous && c.Name != "t_s" {
			names = append(names, c.Name)
		}
	}
	return names
}

// accuracies reads how far each sensor may read off: {map_kpa: 1 kPa, turbine_in_kpa: 0.5 % + 1 kPa, maf_g_s: 3 % k=2}.
func accuracies(f *entry.Form, v *schema.Vehicle) {
	field, ok := f.Value.Field("accuracy")
	if !ok || field.Value.Kind == entry.Null {
		return
	}
	if field.Value.Kind != entry.Map {
		f.Fail(field.Value.At, "accuracy", "found %q: want columns and how far each may read off, such as {map_kpa: 1 kPa, turbine_in_kpa: 0.5 %%}", field.Value.Text)
		return
	}
	v.Accuracy = map[string]schema.Accuracy{}
	for _, item := range field.Value.Fields {
		name := entry.Fold(item.Name)
		column, ok := schema.Lookup(name)
		if !ok || column.Derived || column.Kind != schema.Continuous || name == "t_s" {
			f.Fail(item.At, "accuracy", "found %q: %s", item.Name, entry.Expected(item.Name, sensors()))
			continue
		}
		a, err := readAccuracy(item.Value.Text, column)
		if item.Value.Kind != entry.Scalar {
			err = fmt.Errorf("want one text")
		}
		if err != nil {
			f.Fail(item.Value.At, "accuracy", "%s: found %q: %w, such as 1 %s, 0.5 %%, 0.5 %% + 1 %[4]s, or 2 %[4]s k=2 for an expanded uncertainty", name, item.Value.Text, err, column.Unit)
			continue
		}
		v.Accuracy[name] = a
	}
}

// readAccuracy reads parts that add, each a share of the reading in % or an amount in the column's kind of unit, and k where
// it is an expanded uncertainty. For a column that is itself in % a percentage is an amount.
func readAccuracy(text string, column schema.Column) (schema.Accuracy, error) {
	var a schema.Accuracy
	parts, factor, expanded := strings.Cut(strings.ReplaceAll(text, "K=", "k="), "k=")
	if expanded {
		k, err := strconv.ParseFloat(strings.ReplaceAll(strings.TrimSpace(factor), ",", "."), 64)
		if err != nil || !(k >= 1 && k <= 4) {
			return a, fmt.Errorf("want a coverage factor from 1 to 4 behind k=")
		}
		a.Coverage = k
	}
	to, _ := schema.ParseUnit(column.Unit)
	for _, part := range strings.Split(parts, "+") {
		part = strings.ReplaceAll(strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(part), "±")), ",", ".")
		x, unit, err := schema.ParseQuantity(part)
		switch {
		case err != nil || !(x > 0):
			return a, fmt.Errorf("want an amount above zero in %s, or a share of the reading in %%", column.Unit)
		case unit.Quantity == "percentage" && to.Quantity != "percentage":
			a.Share += x / 100
		case unit.Name == "":
			a.Half += x
		case unit.Quantity != to.Quantity:
			return a, fmt.Errorf("%s is a %s, want a %s", unit.Name, unit.Quantity, to.Quantity)
		default:
			a.Half += x * unit.Factor / to.Factor // A difference: the zero of the scale does not count.
		}
	}
	if a.Share > 0.5 || len(column.Range) == 2 && a.Half > (column.Range[1]-column.Range[0])/2 {
		return a, fmt.Errorf("want less than half of what the sensor can read")
	}
	return a, nil
}
