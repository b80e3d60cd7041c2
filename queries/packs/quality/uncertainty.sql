-- title: What the sensors' accuracies leave open
-- question: How far may a result be off by what the vehicle states of its sensors, before any scatter?
-- apart: platform, vehicle
-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- column platform: -, the vehicle's platform
-- column vehicle: -, the vehicle
-- column calibration: -, the calibration
-- column quantity: -, the column
-- column unit: -, the unit of the three figures behind it
-- column standard_uncertainty: -, combined standard uncertainty at the highest power of a run (first order; median over runs)
-- column expanded: -, twice that
-- column highest: -, the largest of any run
-- column n: 1, runs that tell it; vehicles that state no accuracy in vehicles.yaml have none
SELECT r.platform, r.vehicle, r.calibration, f.channel AS quantity, f.unit,
    round(quantile_of(f.value, 0.5), 5) AS standard_uncertainty, round(2 * quantile_of(f.value, 0.5), 5) AS expanded, round(max(f.value), 5) AS highest, count(*) AS n
FROM findings f
JOIN runs r ON r.run_id = f.run_id
WHERE f.code = 'uncertainty'
    AND ($vehicle IS NULL OR r.vehicle = $vehicle)
    AND ($platform IS NULL OR r.platform = $platform)
GROUP BY r.platform, r.vehicle, r.calibration, f.channel, f.unit
ORDER BY r.platform, r.vehicle, r.calibration, f.channel, f.unit
