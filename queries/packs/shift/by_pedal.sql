-- title: Upshift speed by pedal
-- question: At what engine speed does each platform shift up, by gear and pedal?
-- param platform: text, null, -, only this platform
-- param vehicle: text, null, -, only this vehicle
-- param test: one of sweep|steps|road|coast|other, null, -, only this test kind
-- column platform: -, the platform
-- column duty: -, light or heavy
-- column from_gear: 1, the gear before the upshift
-- column pedal_pct: %, the pedal bin's middle (bins of 10; the last one takes 100 too)
-- column engine_speed_rpm: rpm, median of the upshifts
-- column iqr_rpm: rpm, from their lower to their upper quartile
-- column n: 1, upshifts
-- column vehicles: 1, vehicles that made them
-- plot: line x=pedal_pct y=engine_speed_rpm by=platform,from_gear
WITH upshift AS (
    SELECT r.platform, r.duty, r.vehicle, s.from_gear, bin_mid(greatest(least(s.pedal_pct, 99), 0), 10) AS pedal_pct, s.engine_speed_rpm
    FROM segments s
    JOIN runs r ON r.run_id = s.run_id
    WHERE s.kind = 'shift' AND s.from_gear > 0 AND s.to_gear > s.from_gear AND s.pedal_pct IS NOT NULL AND s.engine_speed_rpm IS NOT NULL
        AND ($platform IS NULL OR r.platform = $platform)
        AND ($vehicle IS NULL OR r.vehicle = $vehicle)
        AND ($test IS NULL OR r.test = $test)
)
SELECT platform, duty, from_gear, pedal_pct, round(quantile_of(engine_speed_rpm, 0.5), 1) AS engine_speed_rpm,
    round(quantile_of(engine_speed_rpm, 0.75) - quantile_of(engine_speed_rpm, 0.25), 1) AS iqr_rpm, count(*) AS n, count(DISTINCT vehicle) AS vehicles
FROM upshift
GROUP BY platform, duty, from_gear, pedal_pct
ORDER BY platform, duty, from_gear, pedal_pct
