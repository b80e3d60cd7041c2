package main

import (
	"path/filepath"
	"testing"

	"dynolake/schema/samples"
)

const healthSQL = "SELECT code, channel, value, text FROM findings WHERE code IN ('channel_stuck', 'channel_saturated', 'channel_clipped', 'channel_spiking', 'channel_dropout', " +
	"'channel_coarse', 'surge_suspected', 'regen_inferred', 'gear_ratio_off', 'turbo_balance_off') ORDER BY code, channel"

// The demo's sensors are sound, with the resolution and the noise of real ones: nothing may be said against any of them.
func TestTheDemosChannelsAreSound(t *testing.T) {
	for _, r := range askJSON(t, demoLakeFolder(t), "--sql", healthSQL) {
		t.Errorf("%s: %s: %s", r.text("code"), r.text("channel"), r.text("text"))
	}
}

// The open samples' sensors are sound but for one: a thermocouple of the measurement file reads 1000 K off in a single row.
func TestTheSamplesChannelsAreJudged(t *testing.T) {
	if got := askJSON(t, samplesLake(t), "--sql", healthSQL); len(got) != 0 {
		t.Errorf("%v", got)
	}
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	dynolake(t, "ingest", "--lake", lake, "--quiet", filepath.Join(samples.Folder(t), "mdf", "run-410-plain.mf4"))
	got := askJSON(t, lake, "--sql", healthSQL)
	if len(got) != 1 || got[0].text("code") != "channel_spiking" || got[0].text("channel") != "turbine_in_c" || got[0].num("value") != 1 {
		t.Errorf("%v", got)
	}
}
