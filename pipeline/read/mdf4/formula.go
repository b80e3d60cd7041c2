package mdf4

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"
)

// longestFormula bounds a formula's text, and so the depth of its brackets.
const longestFormula = 2000

// formula is an algebraic conversion: a text over X with the operators + - * / ^ and the usual functions.
type formula struct {
	program *vm.Program
	machine *vm.VM
	scope   *scope
	log     bool // It uses log, which some take to base 10.
}

// scope is what a formula sees.
type scope struct {
	X float64 `expr:"x"`
}

var identifiers = regexp.MustCompile(`[A-Za-z_][A-Za-z_0-9]*`)

// functions of one argument, by their spellings in lower case.
var functions = map[string]func(float64) float64{
	"sin": math.Sin, "cos": math.Cos, "tan": math.Tan, "asin": math.Asin, "acos": math.Acos, "atan": math.Atan, "arcsin": math.Asin, "arccos": math.Acos, "arctan": math.Atan,
	"sinh": math.Sinh, "cosh": math.Cosh, "tanh": math.Tanh, "asinh": math.Asinh, "acosh": math.Acosh, "atanh": math.Atanh, "exp": math.Exp, "ln": math.Log, "log": math.Log,
	"log10": math.Log10, "log2": math.Log2, "sqrt": math.Sqrt, "abs": math.Abs, "ceil": math.Ceil, "floor": math.Floor,
}

// pairs are functions of two arguments.
var pairs = map[string]func(a, b float64) float64{"pow": math.Pow, "power": math.Pow, "atan2": math.Atan2, "fmod": math.Mod}

// newFormula compiles a formula. Names are taken in any case; X1 is X.
func newFormula(text string) (*formula, error) {
	if strings.TrimSpace(text) == "" || len(text) > longestFormula {
		return nil, fmt.Errorf("expected a text of 1 to %d bytes", longestFormula)
	}
	fm := &formula{machine: &vm.VM{}, scope: &scope{}}
	code := identifiers.ReplaceAllStringFunc(text, func(s string) string {
		switch low := strings.ToLower(s); low {
		case "x", "x1":
			return "x"
		case "pi":
			return fmt.Sprint(math.Pi)
		case "log":
			fm.log = true
			return low
		default:
			return low
		}
	})
	options := []expr.Option{expr.Env(*fm.scope), expr.DisableAllBuiltins(), expr.AsFloat64()}
	for name, fn := range functions {
		options = append(options, expr.Function(name, func(a ...any) (any, error) { return fn(float(a[0])), nil }, fn))
	}
	for name, fn := range pairs {
		options = append(options, expr.Function(name, func(a ...any) (any, error) { return fn(float(a[0]), float(a[1])), nil }, fn))
	}
	var err error
	if fm.program, err = expr.Compile(code, options...); err != nil {
		return nil, fmt.Errorf("%.120s", strings.SplitN(err.Error(), "\n", 2)[0])
	}
	return fm, nil
}

func float(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case int:
		return float64(v)
	}
	return math.NaN()
}

// number evaluates the formula; where it has no value nothing is meant.
func (fm *formula) number(x float64) (float64, string) {
	fm.scope.X = x
	v, err := fm.machine.Run(fm.program, *fm.scope)
	if err != nil {
		return math.NaN(), ""
	}
	return float(v), ""
}
