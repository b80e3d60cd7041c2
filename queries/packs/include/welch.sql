-- Differences of two sides. Given is value(grp, item, side, pull_no, bin, y): a pull's mean in a bin. difference has a row a bin that both
-- sides cross, whole one for the mean of each pull over the bins that every pull crosses. half is NULL where a side has one pull.
value_side AS (
    SELECT grp, item, bin, avg(CASE WHEN side = 'base' THEN y END) AS base, avg(CASE WHEN side = 'candidate' THEN y END) AS candidate,
        CASE WHEN count(CASE WHEN side = 'base' THEN y END) > 1 THEN stddev_samp(CASE WHEN side = 'base' THEN y END) END AS base_sd,
        CASE WHEN count(CASE WHEN side = 'candidate' THEN y END) > 1 THEN stddev_samp(CASE WHEN side = 'candidate' THEN y END) END AS candidate_sd,
        count(CASE WHEN side = 'base' THEN y END) AS n_base, count(CASE WHEN side = 'candidate' THEN y END) AS n_candidate
    FROM value
    WHERE y IS NOT NULL
    GROUP BY grp, item, bin
),
difference AS (
    SELECT *, candidate - base AS delta, welch_half(base_sd, n_base, candidate_sd, n_candidate) AS half
    FROM value_side
    WHERE n_base > 0 AND n_candidate > 0
),
value_most AS (
    SELECT *, max(n_base) OVER (PARTITION BY grp, item) AS most_base, max(n_candidate) OVER (PARTITION BY grp, item) AS most_candidate FROM difference
),
value_pull AS (
    SELECT v.grp, v.item, v.side, v.pull_no, avg(v.y) AS y, count(*) AS bins, max(count(*)) OVER (PARTITION BY v.grp, v.item) AS most_bins
    FROM value v
    JOIN value_most m ON m.grp = v.grp AND m.item = v.item AND m.bin = v.bin AND m.n_base = m.most_base AND m.n_candidate = m.most_candidate
    WHERE v.y IS NOT NULL
    GROUP BY v.grp, v.item, v.side, v.pull_no
),
whole_side AS (
    SELECT grp, item, avg(CASE WHEN side = 'base' THEN y END) AS base, avg(CASE WHEN side = 'candidate' THEN y END) AS candidate,
        CASE WHEN count(CASE WHEN side = 'base' THEN y END) > 1 THEN stddev_samp(CASE WHEN side = 'base' THEN y END) END AS base_sd,
        CASE WHEN count(CASE WHEN side = 'candidate' THEN y END) > 1 THEN stddev_samp(CASE WHEN side = 'candidate' THEN y END) END AS candidate_sd,
        count(CASE WHEN side = 'base' THEN y END) AS n_base, count(CASE WHEN side = 'candidate' THEN y END) AS n_candidate
    FROM value_pull
    WHERE bins = most_bins
    GROUP BY grp, item
),
whole AS (
    SELECT *, candidate - base AS delta, welch_half(base_sd, n_base, candidate_sd, n_candidate) AS half
    FROM whole_side
    WHERE n_base > 0 AND n_candidate > 0
),
