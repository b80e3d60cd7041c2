-- param vehicle: text, null, -, only this vehicle
-- param platform: text, null, -, only this platform
-- param calibration: text, null, -, only this calibration
-- param test: one of sweep|steps|road|coast|other, null, -, the test kind to compare (null: the most frequent)
-- param gear: integer, null, -, the gear to compare (null: the most frequent)
-- param locked: boolean, null, -, converter locked or not (null: the most frequent)
-- param standard: text, null, -, the correction standard to compare (null: the most frequent)
-- param basis: one of outlet|system, null, -, what net drive stands on (null: the most frequent)
-- param baro_within: number, 3, kPa, barometric pressure at most this far from the group's median
-- param charge_within: number, 8, K, charge temperature at a pull's start at most this far from the group's median
-- param coolant_within: number, 10, K, coolant temperature at most this far from the group's median
-- Like with like. The query names its candidates before: candidate(run_id, segment_id, basis). Here the pulls of each vehicle
-- and calibration are narrowed to one test kind, standard, basis, gear and lock-up, and to conditions near their median. What
-- was not logged counts as alike: a gear or lock-up as the most frequent one. left_out counts candidates that are not used.
-- Flagged pulls stay in; flagged names them.
pull AS (
    SELECT dense_rank() OVER (ORDER BY r.platform, r.vehicle, r.calibration) AS grp,
        r.platform, r.duty, r.vehicle, r.calibration, s.run_id, s.segment_id, c.basis,
        coalesce(nullif(r.test, ''), 'other') AS test, coalesce(nullif(r.standard, ''), 'none') AS standard,
        s.gear, s.locked, r.baro_kpa, s.charge_start_c, s.coolant_c, s.flagged
    FROM candidate c
    JOIN segments s ON s.run_id = c.run_id AND s.segment_id = c.segment_id AND s.kind = 'pull'
    JOIN runs r ON r.run_id = s.run_id
    WHERE ($vehicle IS NULL OR r.vehicle = $vehicle)
        AND ($platform IS NULL OR r.platform = $platform)
        AND ($calibration IS NULL OR r.calibration = $calibration)
),
gear_count AS (
    SELECT *, count(*) OVER (PARTITION BY grp) AS candidates, count(gear) OVER (PARTITION BY grp, test, gear) AS gear_n
    FROM pull
),
in_gear AS (
    SELECT *, coalesce(gear, first_value(gear) OVER (PARTITION BY grp, test ORDER BY gear_n DESC, coalesce(gear, 0))) AS like_gear
    FROM gear_count
),
lock_count AS (
    SELECT *, count(locked) OVER (PARTITION BY grp, test, like_gear, locked) AS locked_n
    FROM in_gear
),
in_lock AS (
    SELECT *, coalesce(locked, first_value(locked) OVER (PARTITION BY grp, test, like_gear ORDER BY locked_n DESC, coalesce(locked, false))) AS like_locked
    FROM lock_count
),
asked AS (
    SELECT *, count(*) OVER (PARTITION BY grp, test, standard, basis, like_gear, like_locked) AS alike_n
    FROM in_lock
    WHERE ($test IS NULL OR test = $test)
        AND ($standard IS NULL OR standard = $standard)
        AND ($basis IS NULL OR basis = $basis)
        AND ($gear IS NULL OR like_gear = $gear)
        AND ($locked IS NULL OR like_locked = $locked)
),
ranked AS (
    SELECT *, dense_rank() OVER (PARTITION BY grp ORDER BY alike_n DESC, test DESC, standard, basis, coalesce(like_gear, 0) DESC, coalesce(like_locked, false) DESC) AS place
    FROM asked
),
-- Conditions one after the other, each around the median of the pulls that are left; where none lies near it, as with one cold
-- and one warm pull, around the pull nearest to it (of two as near the warmer engine, the cooler charge). So one always stays.
kin AS (
    SELECT * FROM ranked WHERE place = 1
),
baro_median AS (
    SELECT grp, quantile_of(baro_kpa, 0.5) AS middle FROM kin GROUP BY grp
),
baro_middle AS (
    SELECT k.*, m.middle, first_value(k.baro_kpa) OVER (PARTITION BY k.grp ORDER BY CASE WHEN k.baro_kpa IS NULL THEN 1 ELSE 0 END, round(abs(k.baro_kpa - m.middle), 3), k.baro_kpa DESC) AS nearest
    FROM kin k
    JOIN baro_median m ON m.grp = k.grp
),
baro_kin AS (
    SELECT platform, duty, vehicle, calibration, grp, run_id, segment_id, basis, test, standard, gear, locked, like_gear, like_locked, baro_kpa, charge_start_c, coolant_c, flagged, candidates
    FROM baro_middle
    WHERE baro_kpa IS NULL OR abs(baro_kpa - CASE WHEN abs(nearest - middle) <= $baro_within THEN middle ELSE nearest END) <= $baro_within
),
coolant_median AS (
    SELECT grp, quantile_of(coolant_c, 0.5) AS middle FROM baro_kin GROUP BY grp
),
coolant_middle AS (
    SELECT k.*, m.middle, first_value(k.coolant_c) OVER (PARTITION BY k.grp ORDER BY CASE WHEN k.coolant_c IS NULL THEN 1 ELSE 0 END, round(abs(k.coolant_c - m.middle), 3), k.coolant_c DESC) AS nearest
    FROM baro_kin k
    JOIN coolant_median m ON m.grp = k.grp
),
coolant_kin AS (
    SELECT platform, duty, vehicle, calibration, grp, run_id, segment_id, basis, test, standard, gear, locked, like_gear, like_locked, baro_kpa, charge_start_c, coolant_c, flagged, candidates
    FROM coolant_middle
    WHERE coolant_c IS NULL OR abs(coolant_c - CASE WHEN abs(nearest - middle) <= $coolant_within THEN middle ELSE nearest END) <= $coolant_within
),
charge_median AS (
    SELECT grp, quantile_of(charge_start_c, 0.5) AS middle FROM coolant_kin GROUP BY grp
),
charge_middle AS (
    SELECT k.*, m.middle, first_value(k.charge_start_c) OVER (PARTITION BY k.grp ORDER BY CASE WHEN k.charge_start_c IS NULL THEN 1 ELSE 0 END, round(abs(k.charge_start_c - m.middle), 3), k.charge_start_c) AS nearest
    FROM coolant_kin k
    JOIN charge_median m ON m.grp = k.grp
),
alike AS (
    SELECT r.grp, r.platform, r.duty, r.vehicle, r.calibration, r.run_id, r.segment_id, r.basis, r.test, r.standard,
        r.like_gear AS gear, r.like_locked AS locked, r.flagged,
        count(*) OVER (PARTITION BY r.grp) AS pulls,
        r.candidates - count(*) OVER (PARTITION BY r.grp) AS left_out,
        row_number() OVER (PARTITION BY r.grp ORDER BY r.run_id, r.segment_id) AS pull_no,
        CASE WHEN count(r.gear) OVER (PARTITION BY r.grp) < count(*) OVER (PARTITION BY r.grp) THEN ' gear' ELSE '' END
            || CASE WHEN count(r.locked) OVER (PARTITION BY r.grp) < count(*) OVER (PARTITION BY r.grp) THEN ' locked' ELSE '' END
            || CASE WHEN count(r.baro_kpa) OVER (PARTITION BY r.grp) < count(*) OVER (PARTITION BY r.grp) THEN ' baro' ELSE '' END
            || CASE WHEN count(r.charge_start_c) OVER (PARTITION BY r.grp) < count(*) OVER (PARTITION BY r.grp) THEN ' charge' ELSE '' END
            || CASE WHEN count(r.coolant_c) OVER (PARTITION BY r.grp) < count(*) OVER (PARTITION BY r.grp) THEN ' coolant' ELSE '' END AS not_logged
    FROM charge_middle r
    WHERE r.charge_start_c IS NULL OR abs(r.charge_start_c - CASE WHEN abs(r.nearest - r.middle) <= $charge_within THEN r.middle ELSE r.nearest END) <= $charge_within
),
flagged AS (
    SELECT grp, joined(run_id || '/' || CAST(segment_id AS VARCHAR) || ' ' || flagged) AS flagged
    FROM alike
    WHERE flagged <> ''
    GROUP BY grp
),
