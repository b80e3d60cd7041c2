-- title: How far the measurements can be trusted
-- question: How much does peak power scatter between pulls, what do pressure sensors read with the engine stopped, and which channels are missing?
-- apart: platform, vehicle
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column n: 1, pulls used
-- column peak_power_kw: kW, mean over pulls of their highest wheel power
-- column peak_power_sd_kw: kW, standard deviation of it over pulls; NULL for one pull
-- column peak_power_spread_frac: 1, standard deviation over mean
-- column peak_power_range_kw: kW, highest less lowest of the pulls
-- column flagged_n: 1, pulls used that a rule doubts
-- column offset_runs: 1, runs in which some pressure was read with the engine stopped (finding sensor_zero)
-- column map_offset_kpa: kPa, median over those runs of the manifold pressure less barometric, as logged; 0 is right
-- column inlet_offset_kpa: kPa, the same of the compressor's inlet
-- column compressor_out_offset_kpa: kPa, the same of the compressor's outlet
-- column turbine_in_offset_kpa: kPa, the same before the turbine
-- column turbine_out_offset_kpa: kPa, the same after the turbine
-- column exhaust_offset_kpa: kPa, median over those runs of the exhaust system's gauge pressure
-- column dpf_offset_kpa: kPa, the same of the filter's pressure loss
-- column coverage_frac: 1, mean over pulls of the share that is logged of the channels that the packs use
-- column sometimes_logged: -, channels that some of the pulls lack
-- column never_logged: -, channels that all pulls lack
-- column platform: -, the vehicle's platform
-- column test: -, the test kind compared
-- column gear: 1, the gear compared
-- column locked: -, converter locked or not
-- column left_out: 1, pulls of the vehicle and calibration that are not alike and were not used
-- column left_out_why: -, for which condition they were left out, with their number
-- column not_logged: -, conditions that some of the pulls used did not log and that were taken as alike
-- column flagged: -, pulls used that a rule doubts: run, segment and why
WITH candidate AS (
    SELECT run_id, segment_id, 'any' AS basis FROM segments WHERE kind = 'pull' AND peak_power_kw IS NOT NULL
),
-- include: alike
spread AS (
    SELECT a.grp, count(*) AS n, avg(s.peak_power_kw) AS middle, CASE WHEN count(*) > 1 THEN stddev_samp(s.peak_power_kw) END AS sd, max(s.peak_power_kw) - min(s.peak_power_kw) AS width,
        count(CASE WHEN a.flagged <> '' THEN 1 END) AS flagged_n
    FROM alike a
    JOIN segments s ON s.run_id = a.run_id AND s.segment_id = a.segment_id
    GROUP BY a.grp
),
logged AS ( -- Over a pull's power bins, whether each channel has a value.
    SELECT a.grp, a.pull_no, count(c.map_kpa) AS c1, count(c.turbine_in_kpa) AS c2, count(coalesce(c.turbine_out_kpa, c.exhaust_total_kpa)) AS c3, count(c.dpf_delta_kpa) AS c4, count(c.lambda_ratio) AS c5,
        count(c.maf_g_s) AS c6, count(coalesce(c.fuel_kg_h, c.inj_mg)) AS c7, count(c.turbine_in_c) AS c8, count(c.compressor_out_kpa) AS c9, count(c.compressor_out_c) AS c10, count(c.charge_c) AS c11,
        count(c.inlet_kpa) AS c12, count(c.inlet_c) AS c13, count(c.vane_pct) AS c14, count(c.turbo_speed_rpm) AS c15, count(c.rail_kpa) AS c16, count(c.dpf_in_c) AS c17, count(c.coolant_c) AS c18,
        count(c.gear) AS c19, count(c.pedal_pct) AS c20
    FROM alike a
    JOIN curves c ON c.run_id = a.run_id AND c.segment_id = a.segment_id AND c.axis = 'wheel_power_kw'
    GROUP BY a.grp, a.pull_no
),
channel AS (
    SELECT grp, pull_no, 'map_kpa' AS channel, c1 AS bins FROM logged
    UNION ALL SELECT grp, pull_no, 'turbine_in_kpa', c2 FROM logged
    UNION ALL SELECT grp, pull_no, 'turbine_out_kpa or exhaust_total_kpa', c3 FROM logged
    UNION ALL SELECT grp, pull_no, 'dpf_delta_kpa', c4 FROM logged
    UNION ALL SELECT grp, pull_no, 'lambda_ratio', c5 FROM logged
    UNION ALL SELECT grp, pull_no, 'maf_g_s', c6 FROM logged
    UNION ALL SELECT grp, pull_no, 'fuel_kg_h or inj_mg', c7 FROM logged
    UNION ALL SELECT grp, pull_no, 'turbine_in_c', c8 FROM logged
    UNION ALL SELECT grp, pull_no, 'compressor_out_kpa', c9 FROM logged
    UNION ALL SELECT grp, pull_no, 'compressor_out_c', c10 FROM logged
    UNION ALL SELECT grp, pull_no, 'charge_c', c11 FROM logged
    UNION ALL SELECT grp, pull_no, 'inlet_kpa', c12 FROM logged
    UNION ALL SELECT grp, pull_no, 'inlet_c', c13 FROM logged
    UNION ALL SELECT grp, pull_no, 'vane_pct', c14 FROM logged
    UNION ALL SELECT grp, pull_no, 'turbo_speed_rpm', c15 FROM logged
    UNION ALL SELECT grp, pull_no, 'rail_kpa', c16 FROM logged
    UNION ALL SELECT grp, pull_no, 'dpf_in_c', c17 FROM logged
    UNION ALL SELECT grp, pull_no, 'coolant_c', c18 FROM logged
    UNION ALL SELECT grp, pull_no, 'gear', c19 FROM logged
    UNION ALL SELECT grp, pull_no, 'pedal_pct', c20 FROM logged
),
covered AS (
    SELECT grp, channel, avg(CASE WHEN bins > 0 THEN 1.0 ELSE 0.0 END) AS share FROM channel GROUP BY grp, channel
),
coverage AS (
    SELECT grp, avg(share) AS share, joined(CASE WHEN share > 0 AND share < 1 THEN channel END) AS sometimes, joined(CASE WHEN share = 0 THEN channel END) AS never FROM covered GROUP BY grp
),
still AS ( -- What ingest found of each pressure with the engine stopped: no year of samples is read for it.
    SELECT run_id, avg(CASE WHEN channel = 'map_kpa' THEN value END) AS map_off, avg(CASE WHEN channel = 'inlet_kpa' THEN value END) AS inlet_off, avg(CASE WHEN channel = 'compressor_out_kpa' THEN value END) AS compressor_off,
        avg(CASE WHEN channel = 'turbine_in_kpa' THEN value END) AS turbine_in_off, avg(CASE WHEN channel = 'turbine_out_kpa' THEN value END) AS turbine_out_off,
        avg(CASE WHEN channel = 'exhaust_total_kpa' THEN value END) AS exhaust_off, avg(CASE WHEN channel = 'dpf_delta_kpa' THEN value END) AS dpf_off
    FROM findings
    WHERE code = 'sensor_zero'
    GROUP BY run_id
),
still_run AS (
    SELECT DISTINCT grp, run_id FROM alike
),
offset_of AS (
    SELECT r.grp, count(*) AS runs, quantile_of(s.map_off, 0.5) AS map_off, quantile_of(s.inlet_off, 0.5) AS inlet_off, quantile_of(s.compressor_off, 0.5) AS compressor_off,
        quantile_of(s.turbine_in_off, 0.5) AS turbine_in_off, quantile_of(s.turbine_out_off, 0.5) AS turbine_out_off, quantile_of(s.exhaust_off, 0.5) AS exhaust_off, quantile_of(s.dpf_off, 0.5) AS dpf_off
    FROM still_run r
    JOIN still s ON s.run_id = r.run_id
    GROUP BY r.grp
)
SELECT g.vehicle, g.calibration, p.n, round(p.middle, 2) AS peak_power_kw, round(p.sd, 2) AS peak_power_sd_kw, round(p.sd / p.middle, 4) AS peak_power_spread_frac, round(p.width, 2) AS peak_power_range_kw, p.flagged_n,
    coalesce(o.runs, 0) AS offset_runs, round(o.map_off, 2) AS map_offset_kpa, round(o.inlet_off, 2) AS inlet_offset_kpa, round(o.compressor_off, 2) AS compressor_out_offset_kpa,
    round(o.turbine_in_off, 2) AS turbine_in_offset_kpa, round(o.turbine_out_off, 2) AS turbine_out_offset_kpa, round(o.exhaust_off, 2) AS exhaust_offset_kpa, round(o.dpf_off, 2) AS dpf_offset_kpa,
    round(c.share, 3) AS coverage_frac, c.sometimes AS sometimes_logged, c.never AS never_logged, g.platform, g.test, g.gear, g.locked, g.left_out, g.left_out_why, nullif(trim(g.not_logged), '') AS not_logged, f.flagged
FROM alike g
JOIN spread p ON p.grp = g.grp
LEFT JOIN coverage c ON c.grp = g.grp
LEFT JOIN offset_of o ON o.grp = g.grp
LEFT JOIN flagged f ON f.grp = g.grp
WHERE g.pull_no = 1
ORDER BY g.platform, g.vehicle, g.calibration
