package derive

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"dynolake/schema"
)

// tested names, for every column that is derived or filled in, the test that holds its formula to figures from outside or to hand
// reckoning, and the one that holds the column made of it.
func tested() map[string][2]string {
	return map[string][2]string{
		"wheel_power_kw": {"TestPowerOfInertiaEqualsThatOfTheShaft", "TestPowerFromInertia"}, "torque_nm": {"TestTorqueAndPower", "TestPowerFromInertia"},
		"boost_kpa": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"}, "net_drive_kpa": {"TestPressuresWithOutlet", "TestPressuresOfTheWholeSystem"}, "drive_basis": {"TestPressuresWithOutlet", "TestPressuresOfTheWholeSystem"},
		"drive_ratio": {"TestPressuresWithOutlet", "TestMissingStaysMissingAndSmallBoostIsNoDivisor"}, "gross_drive_kpa": {"TestPressuresWithOutlet", "TestPressuresOfTheWholeSystem"}, "gross_ratio": {"TestPressuresWithOutlet", "TestGrossAlone"},
		"expansion_ratio": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"}, "compressor_ratio": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"},
		"exhaust_gauge_kpa": {"TestPressuresWithOutlet", "TestPressuresOfTheWholeSystem"}, "after_dpf_kpa": {"TestPressuresWithOutlet", "TestPressuresOfTheWholeSystem"},
		"gear_est": {"TestEngineRatio", "TestGearEstimate"}, "tyre_slip_frac": {"TestEngineRatio", "TestTyreSlip"},
		"rail_error_kpa": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"}, "map_error_kpa": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"}, "vane_error_pct": {"TestPressuresWithOutlet", "TestPressuresWithOutlet"},
		"power_corr_kw": {"TestCorrectionFactorOfTurboDiesels", "TestCorrectedPower"}, "torque_corr_nm": {"TestCorrectionFactorOfTurboDiesels", "TestCorrectedPower"}, "corr_ratio": {"TestCorrectionFactorOfTurboDiesels", "TestCorrectedPower"},
		"air_kg_h": {"TestSpeedDensity", "TestAirBySpeedAndDensity"}, "afr_ratio": {"TestLambda", "TestEngineColumns"}, "lambda_calc_ratio": {"TestLambda", "TestEngineColumns"}, "ve_frac": {"TestSpeedDensity", "TestEngineColumns"},
		"compressor_eff_frac": {"TestCompressorEfficiency", "TestCompressorNeedsItsPorts"}, "corrected_air_kg_s": {"TestCorrectedFlow", "TestCorrectedAirWithoutAPort"},
		"cooler_eff_frac": {"TestCoolerEffectiveness", "TestCoolingAir"}, "cooler_drop_kpa": {"TestCoolingAir", "TestCoolingAir"}, "turbine_flow": {"TestTurbine", "TestEngineColumns"},
		"bsfc_g_kwh": {"TestBSFC", "TestConsumptionOnTheCrankshaft"}, "bmep_kpa": {"TestBMEP", "TestConsumptionOnTheCrankshaft"}, "dpf_resist": {"TestVolumeFlow", "TestFilterPressure"},
		"dpf_resist_ref": {"TestViscosityOfTheStandardAtmosphere", "TestFilterColumns"}, "dpf_share_frac": {"TestFilterShare", "TestFilterColumns"}, "turbine_eff_frac": {"TestTurbine", "TestTurboBalance"}, "corrected_turbo_rpm": {"TestCorrectedFlow", "TestTurboBalance"},
		"compressor_power_kw": {"TestGasPower", "TestTurboBalance"}, "turbine_power_kw": {"TestTurbine", "TestTurboBalance"}, "turbo_balance_frac": {"TestPowerBalance", "TestTurboBalance"},
		"brake_eff_frac": {"TestBSFC", "TestBrakeEfficiencyColumn"}, "piston_speed_m_s": {"TestPistonSpeed", "TestTurboBalance"}, "regen_active_frac": {"TestRegeneratingHasHysteresis", "TestRegenerationIsInferredFromHeatAndEvidence"},
		"surge_cov_frac": {"TestVariationIsAboutTheLine", "TestSurgeIsSuspected"}, "turbine_in_fast_c": {"TestLagIsTakenOffWhereAsked", "TestLagIsTakenOffWhereAsked"}, "turbine_out_fast_c": {"TestLagIsTakenOffWhereAsked", "TestUnlaggedOutletColumn"},
	}
}

// Every derived column has a formula, its validity, a source and a test by name that speaks of it.
func TestEveryDerivedColumnIsTested(t *testing.T) {
	text := map[string]string{} // By test.
	files, err := filepath.Glob("*_test.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		parts := regexp.MustCompile(`(?m)^func `).Split(string(b), -1)
		for _, p := range parts[1:] {
			test, _, _ := strings.Cut(p, "(")
			text[test] = p
		}
	}
	all := tested()
	for _, c := range schema.Columns() {
		if !c.Derived && c.Formula == "" {
			continue
		}
		if c.Formula == "" || c.Validity == "" || c.Source == "" {
			t.Errorf("%s: formula %q, validity %q, source %q: want all three", c.Name, c.Formula, c.Validity, c.Source)
		}
		tests, ok := all[c.Name]
		if !ok {
			t.Errorf("%s has no test by name", c.Name)
			continue
		}
		if text[tests[0]] == "" {
			t.Errorf("%s: there is no %s", c.Name, tests[0])
		}
		if !strings.Contains(text[tests[1]], c.Name) {
			t.Errorf("%s: %s does not speak of it", c.Name, tests[1])
		}
		delete(all, c.Name)
	}
	for name := range all {
		t.Errorf("%s is no derived column", name)
	}
}
