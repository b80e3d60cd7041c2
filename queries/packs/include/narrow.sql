-- param test: one of sweep|steps|road|coast|other, null, -, the test kind to compare (null: the most frequent)
-- param gear: integer, null, -, the gear to compare (null: the most frequent)
-- param locked: boolean, null, -, converter locked or not (null: the most frequent)
-- param standard: text, null, -, the correction standard to compare (null: the most frequent)
-- param basis: one of outlet|system, null, -, what net drive stands on (null: the most frequent)
-- param baro_within: number, 3, kPa, barometric pressure at most this far from the group's median
-- param charge_within: number, 8, K, charge temperature at a pull's start at most this far from the group's median
-- param coolant_within: number, 10, K, coolant temperature at most this far from the group's median
-- Like with like. Given are pulls in groups: pull(grp, side, platform, duty, vehicle, calibration, run_id, segment_id, basis, test,
-- standard, gear, locked, baro_kpa, charge_start_c, coolant_c, flagged). They are narrowed to one test kind, standard, basis, gear and
-- lock-up, the most frequent ones (of those that both sides have, where there are two), and to conditions near the group's median.
-- What was not logged counts as alike: a gear or lock-up as the most frequent one. left_out counts pulls of the group and side that
-- are not used, left_out_why says for what. Flagged pulls stay in; flagged names them.
gear_count AS (
    SELECT *, count(*) OVER (PARTITION BY grp, side) AS candidates, count(gear) OVER (PARTITION BY grp, test, gear) AS gear_n
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
    SELECT *, count(*) OVER (PARTITION BY grp, side) AS asked_n, count(*) OVER (PARTITION BY grp, test, standard, basis, like_gear, like_locked) AS alike_n,
        count(*) OVER (PARTITION BY grp, test, standard, basis, like_gear, like_locked, side) AS side_n
    FROM in_lock
    WHERE ($test IS NULL OR test = $test)
        AND ($standard IS NULL OR standard = $standard)
        AND ($basis IS NULL OR basis = $basis)
        AND ($gear IS NULL OR like_gear = $gear)
        AND ($locked IS NULL OR like_locked = $locked)
),
weighed AS ( -- 0 where one side alone is there.
    SELECT *, CASE WHEN min(side) OVER w < max(side) OVER w THEN min(side_n) OVER w ELSE 0 END AS both_n
    FROM asked
    WINDOW w AS (PARTITION BY grp, test, standard, basis, like_gear, like_locked)
),
ranked AS (
    SELECT *, dense_rank() OVER (PARTITION BY grp ORDER BY both_n DESC, alike_n DESC, test DESC, standard, basis, coalesce(like_gear, 0) DESC, coalesce(like_locked, false) DESC) AS place
    FROM weighed
),
-- Conditions one after the other, each around the median of the pulls that are left; where none lies near it, as with one cold
-- and one warm pull, around the pull nearest to it (of two as near the warmer engine, the cooler charge). So one always stays.
kin AS (
    SELECT *, count(*) OVER (PARTITION BY grp, side) AS kin_n FROM ranked WHERE place = 1
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
    SELECT platform, duty, vehicle, calibration, grp, side, run_id, segment_id, basis, test, standard, gear, locked, like_gear, like_locked, baro_kpa, charge_start_c, coolant_c, flagged, candidates, asked_n, kin_n, count(*) OVER (PARTITION BY grp, side) AS baro_n
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
    SELECT platform, duty, vehicle, calibration, grp, side, run_id, segment_id, basis, test, standard, gear, locked, like_gear, like_locked, baro_kpa, charge_start_c, coolant_c, flagged, candidates, asked_n, kin_n, baro_n, count(*) OVER (PARTITION BY grp, side) AS coolant_n
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
near_kin AS (
    SELECT *, count(*) OVER (PARTITION BY grp, side) AS pulls, count(*) OVER (PARTITION BY grp) AS all_n,
        count(gear) OVER (PARTITION BY grp) AS gears, count(locked) OVER (PARTITION BY grp) AS locks, count(baro_kpa) OVER (PARTITION BY grp) AS baros,
        count(charge_start_c) OVER (PARTITION BY grp) AS charges, count(coolant_c) OVER (PARTITION BY grp) AS coolants
    FROM charge_middle
    WHERE charge_start_c IS NULL OR abs(charge_start_c - CASE WHEN abs(nearest - middle) <= $charge_within THEN middle ELSE nearest END) <= $charge_within
),
alike AS (
    SELECT grp, side, platform, duty, vehicle, calibration, run_id, segment_id, basis, test, standard, like_gear AS gear, like_locked AS locked, flagged, pulls,
        candidates - pulls AS left_out,
        nullif(trim(concat(
            CASE WHEN candidates > asked_n THEN concat('not asked for ', candidates - asked_n, ' ') ELSE '' END,
            CASE WHEN asked_n > kin_n THEN concat('test/standard/basis/gear/lock-up ', asked_n - kin_n, ' ') ELSE '' END,
            CASE WHEN kin_n > baro_n THEN concat('baro ', kin_n - baro_n, ' ') ELSE '' END,
            CASE WHEN baro_n > coolant_n THEN concat('coolant ', baro_n - coolant_n, ' ') ELSE '' END,
            CASE WHEN coolant_n > pulls THEN concat('charge ', coolant_n - pulls, ' ') ELSE '' END)), '') AS left_out_why,
        count(CASE WHEN flagged <> '' THEN 1 END) OVER (PARTITION BY grp, side) AS flagged_n,
        row_number() OVER (PARTITION BY grp, side ORDER BY run_id, segment_id) AS pull_no,
        concat(CASE WHEN gears < all_n THEN ' gear' ELSE '' END, CASE WHEN locks < all_n THEN ' locked' ELSE '' END, CASE WHEN baros < all_n THEN ' baro' ELSE '' END,
            CASE WHEN charges < all_n THEN ' charge' ELSE '' END, CASE WHEN coolants < all_n THEN ' coolant' ELSE '' END) AS not_logged
    FROM near_kin
),
flagged AS (
    SELECT grp, joined(run_id || '/' || CAST(segment_id AS VARCHAR) || ' ' || flagged) AS flagged
    FROM alike
    WHERE flagged <> ''
    GROUP BY grp
),
