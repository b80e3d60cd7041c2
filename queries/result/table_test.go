package result

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestTable(t *testing.T) {
	list := []Column{{Name: "vehicle"}, {Name: "boost_kpa", Kind: Float32}, {Name: "charge_c", Kind: Float64}, {Name: "torque_nm", Kind: Float64}, {Name: "lambda_ratio", Kind: Float32}, {Name: "other", Kind: Float64}, {Name: "n", Kind: Int}}
	rows := [][]any{
		{"light-1", float32(151.684), 25.0, 400.0, float32(1.2344), 12345.678, int64(12)},
		{"é車", nil, -40.0, -0.04, float32(0.9), 0.000123456789, nil},
	}
	for name, c := range map[string]struct {
		units Units
		want  string
	}{
		"metric": {Metric, `
vehicle  boost_kpa  charge_c  torque_nm  lambda_ratio        other   n
───────  ─────────  ────────  ─────────  ────────────  ───────────  ──
light-1     151.68      25.0      400.0         1.234      12345.7  12
é車              –     -40.0        0.0         0.900  0.000123457   –
`},
		"us": {US, `
vehicle  boost_psi  charge_f  torque_lb_ft  lambda_ratio        other   n
───────  ─────────  ────────  ────────────  ────────────  ───────────  ──
light-1      22.00      77.0         295.0         1.234      12345.7  12
é車              –     -40.0           0.0         0.900  0.000123457   –
`},
	} {
		t.Run(name, func(t *testing.T) {
			if d := cmp.Diff(c.want[1:], write(t, Table, Options{Units: c.units}, list, rows)); d != "" {
				t.Error(d)
			}
		})
	}
	if got, want := write(t, Table, Options{}, list[:1], nil), "vehicle\n───────\n(no rows)\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// Factors: NIST SP 811 app. B.8. The interval of a power is declared in its unit, a difference of temperatures in K.
func TestUSUnits(t *testing.T) {
	for _, c := range []struct {
		name, declared string
		value          float64
		head, want     string
	}{
		{"limit_kpa", "", 172.369, "limit_psi", "25.00"},
		{"dpf_delta_kpa", "kPa", 6.894757, "dpf_delta_psi", "1.00"},
		{"drive_kpa_p05", "", 172.369, "drive_psi_p05", "25.00"},
		{"peak_power_kw", "", 186.425, "peak_power_hp", "250.0"},
		{"vehicle_speed_kmh", "", 96.56064, "vehicle_speed_mph", "60.0"},
		{"fuel_kg_h", "", 0.45359237, "fuel_lb_h", "1.00"},
		{"maf_g_s", "", 340.194, "maf_lb_min", "45.00"},
		{"corrected_air_kg_s", "", 0.340194, "corrected_air_lb_min", "45.00"},
		{"delta_nm", "N·m", 406.7454, "delta_lb_ft", "300.0"},
		{"roller_force_n", "", 4.4482216, "roller_force_lbf", "1.0"},
		{"charge_c", "°C", 25, "charge_f", "77.0"},
		{"delta_c", "", 10, "delta_f", "18.0"},
		{"cooler_rise", "K", 10, "cooler_rise_f", "18.0"},
		{"lo95", "kW", 186.425, "lo95_hp", "250.0"},
		{"lo95", "", 186.425, "lo95", "186.425"},
		{"drive_ratio_best", "1", 1.31, "drive_ratio_best", "1.310"},
		{"drive_ratio", "1", 1.5, "drive_ratio", "1.500"},
		{"engine_speed_rpm", "", 2025, "engine_speed_rpm", "2025.0"},
		{"share_of_turbine_in", "1", 0.25, "share_of_turbine_in", "0.250"},
		{"duration_s", "", 12.5, "duration_s", "12.50"},
	} {
		s := styleOf(Column{Name: c.name, Kind: Float64}, Options{Units: US, Declared: map[string]string{c.name: c.declared}})
		if got := s.cell(c.value); s.head != c.head || got != c.want {
			t.Errorf("%s (%s): %v is %s %s, want %s %s", c.name, c.declared, c.value, s.head, got, c.head, c.want)
		}
	}
	whole := styleOf(Column{Name: "limit_kpa", Kind: Int}, Options{Units: US})
	if got := whole.cell(int64(100)); got != "14.50" {
		t.Errorf("a whole number of kPa is %s psi", got)
	}
	if count := styleOf(Column{Name: "pulls_n", Kind: Int}, Options{Units: US}); count.cell(int64(7)) != "7" || count.head != "pulls_n" {
		t.Errorf("a count is shown as %s %s", count.head, count.cell(int64(7)))
	}
}

func TestTextsAreHarmless(t *testing.T) {
	hostile := "\x1b]0;title\x07\x1b[31mred\x9b2J\u202eback\u2028\x7f\xff\ttab\nline"
	for f, lines := range map[Format]int{Table: 4, Markdown: 3} {
		got := write(t, f, Options{}, []Column{{Name: "text\x1b[1m"}}, [][]any{{hostile}})
		if strings.ContainsAny(got, "\x1b\x07\x7f\t") || strings.Contains(got, "\u009b") || strings.Contains(got, "\u202e") || strings.Count(got, "\n") != lines {
			t.Errorf("%s: got %q", f, got)
		}
	}
}

func TestMarkdown(t *testing.T) {
	got := write(t, Markdown, Options{Units: US}, []Column{{Name: "note"}, {Name: "boost_kpa", Kind: Float64}}, [][]any{{"a|b <i>*x*", 172.369}, {nil, nil}})
	want := `| note | boost_psi |
| --- | ---: |
| a\|b &lt;i>\*x\* | 25.00 |
| – | – |
`
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestTableFitsTheTerminal(t *testing.T) {
	list := []Column{{Name: "run_id"}, {Name: "note"}, {Name: "boost_kpa", Kind: Float64}, {Name: "wheel_power_kw", Kind: Float64}}
	long := strings.Repeat("long ", 30)
	for _, width := range []int{1, 20, 60, 80, 200} {
		got := write(t, Table, Options{Width: width}, list, [][]any{{"0123456789abcdef", long, 1.0, 2.0}})
		for i, line := range strings.Split(strings.TrimSpace(got), "\n") {
			if n := len([]rune(line)); i < 3 && n > max(width, 16) {
				t.Errorf("width %d: a line of %d: %s", width, n, line)
			}
		}
		if told := strings.Contains(got, "(no room for") && strings.Contains(got, "wheel_power_kw:"); width < 80 && !told {
			t.Errorf("width %d: columns are hidden in silence:\n%s", width, got)
		}
		if width == 200 && !strings.Contains(got, strings.TrimSpace(long)) {
			t.Errorf("a text is cut though there is room:\n%s", got)
		}
	}
	if got := write(t, Table, Options{}, list, [][]any{{"x", long, 1.0, 2.0}}); !strings.Contains(got, strings.TrimSpace(long)) {
		t.Error("without a terminal a text was cut")
	}
}

func TestTextsOfSeveralLines(t *testing.T) {
	got := write(t, Table, Options{}, []Column{{Name: "n", Kind: Int}, {Name: "note"}, {Name: "m", Kind: Int}}, [][]any{{int64(1), "one\r\ntwo more\n", int64(2)}})
	want := "n  note      m\n─  ────────  ─\n1  one       2\n   two more\n"
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Rows after those held back to size the columns are all printed.
func TestLongTable(t *testing.T) {
	rows := make([][]any, 3*sized+7)
	for i := range rows {
		rows[i] = []any{fmt.Sprintf("r%d", i), int64(i)}
	}
	got := write(t, Table, Options{}, []Column{{Name: "r"}, {Name: "i", Kind: Int}}, rows)
	lines := strings.Split(strings.TrimSpace(got), "\n")
	if len(lines) != len(rows)+2 || !strings.HasSuffix(lines[len(lines)-1], " 3006") {
		t.Errorf("got %d lines, the last %q", len(lines), lines[len(lines)-1])
	}
}
