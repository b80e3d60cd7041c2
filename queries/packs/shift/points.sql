-- title: Every shift
-- question: Where did each run shift, in which gear and at what pedal?
-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- param test: one of sweep|steps|road|coast|other, null, -, only this test kind
-- column run_id: -, the run
-- column vehicle: -, the vehicle
-- column from_gear: 1, the gear before
-- column to_gear: 1, the gear after
-- column engine_speed_rpm: rpm, highest engine speed in the 0.5 s before it falls (for a downshift the lowest before it rises)
-- column pedal_pct: %, pedal 0.5 s before the shift
-- column locked: -, converter locked or not
-- column platform: -, the vehicle's platform
-- column calibration: -, the calibration
-- column test: -, the run's test kind
-- column t_s: s, when in the run
-- plot: points x=pedal_pct y=engine_speed_rpm by=platform,from_gear
SELECT s.run_id, r.vehicle, s.from_gear, s.to_gear, round(s.engine_speed_rpm, 1) AS engine_speed_rpm, round(s.pedal_pct, 1) AS pedal_pct, s.locked,
    r.platform, r.calibration, r.test, round(s.t0_s, 3) AS t_s
FROM segments s
JOIN runs r ON r.run_id = s.run_id
WHERE s.kind = 'shift'
    AND ($vehicle IS NULL OR r.vehicle = $vehicle)
    AND ($platform IS NULL OR r.platform = $platform)
    AND ($test IS NULL OR r.test = $test)
ORDER BY s.run_id, s.t0_s, s.segment_id
