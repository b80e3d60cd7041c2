package result

import "testing"

// 200.4 g/kWh are 0.3295 lb/(hp·h), by the pound and the mechanical horsepower (NIST SP 811 app. B.8).
func TestConsumptionInUSUnits(t *testing.T) {
	s := styleOf(Column{Name: "bsfc_g_kwh", Kind: Float64}, Options{Units: US})
	if got := s.cell(200.4); s.head != "bsfc_lb_hph" || got != "0.3295" {
		t.Errorf("%s = %s, want bsfc_lb_hph = 0.3295", s.head, got)
	}
}
