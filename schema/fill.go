package schema

import (
	"fmt"
	"reflect"
	"strconv"
)

// mustRead reads an embedded file. An error is one of a broken build, not of a user's: it panics.
func mustRead(name, text string) []section {
	list, err := sections(text)
	if err != nil {
		panic(fmt.Sprintf("read the embedded %s: %v", name, err))
	}
	return list
}

// fillAll makes entries of an embedded file structs.
func fillAll[T any](name string, entries []entry) []T {
	list := make([]T, len(entries))
	for i, e := range entries {
		if err := e.fill(&list[i]); err != nil {
			panic(fmt.Sprintf("read the embedded %s: %v", name, err))
		}
	}
	return list
}

// fill puts an entry into the fields of a struct that have its keys as their yaml tags.
func (e entry) fill(into any) error {
	to := reflect.ValueOf(into).Elem()
	filled := 0
	for i := range to.NumField() {
		values, ok := e[to.Type().Field(i).Tag.Get("yaml")]
		if !ok {
			continue
		}
		filled++
		if err := set(to.Field(i), values); err != nil {
			return fmt.Errorf("%s: %w", to.Type().Field(i).Name, err)
		}
	}
	if filled < len(e) {
		return fmt.Errorf("found keys that %s has not, in %v", to.Type(), e)
	}
	return nil
}

// set gives a field its values.
func set(field reflect.Value, values []string) (err error) {
	if field.Kind() == reflect.Slice {
		field.Set(reflect.MakeSlice(field.Type(), len(values), len(values)))
		for i := range values {
			if err := set(field.Index(i), values[i:i+1]); err != nil {
				return err
			}
		}
		return nil
	}
	if len(values) != 1 {
		return fmt.Errorf("found %d values: want one", len(values))
	}
	switch field.Kind() {
	case reflect.String:
		field.SetString(values[0])
	case reflect.Bool:
		var is bool
		is, err = strconv.ParseBool(values[0])
		field.SetBool(is)
	case reflect.Int:
		var n int
		n, err = strconv.Atoi(values[0])
		field.SetInt(int64(n))
	case reflect.Float64:
		var x float64
		x, err = strconv.ParseFloat(values[0], 64)
		field.SetFloat(x)
	default:
		err = fmt.Errorf("a field of the kind %s cannot be read", field.Kind())
	}
	return err
}
