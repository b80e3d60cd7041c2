-- The functions by which the queries are spelled the same on every engine. Each has one definition here; another engine
-- brings its own file of the same names.

-- bin: the middle of the bin of the given width that x falls into.
CREATE MACRO bin_mid(x, width) AS (floor(x / width) + 0.5) * width;

-- The p-th part of the values, interpolated between two of them (p from 0 to 1).
CREATE MACRO quantile_of(x, p) AS quantile_cont(CAST(x AS DOUBLE), p);

-- A parameter that lists numbers or texts: '1.0,1.2,1.5'.
CREATE MACRO numbers(list) AS list_transform(list_filter(string_split(list, ','), lambda s: trim(s) <> ''), lambda s: CAST(trim(s) AS DOUBLE));
CREATE MACRO words(list) AS list_filter(list_transform(string_split(list, ','), lambda s: trim(s)), lambda s: s <> '');

-- Units for people who read the other ones (factors by NIST SP 811 app. B.8).
CREATE MACRO kpa_to_psi(x) AS x / 6.894757293168361;
CREATE MACRO c_to_f(x) AS x * 1.8 + 32;
CREATE MACRO nm_to_lb_ft(x) AS x / 1.3558179483314004;
CREATE MACRO kw_to_hp(x) AS x / 0.7456998715822702;
CREATE MACRO kmh_to_mph(x) AS x / 1.609344;
CREATE MACRO g_s_to_lb_min(x) AS x * 3.6 / 27.2155422;
CREATE MACRO kg_h_to_lb_h(x) AS x / 0.45359237;

-- A row for each element of a list of numbers or texts.
CREATE MACRO each_of(list) AS unnest(list);

-- The texts of a group, sorted, with a comma between them.
CREATE MACRO joined(x) AS string_agg(x, ', ' ORDER BY x);

-- Student's t, 0.975 quantile, for whole degrees of freedom; NULL below 1. To 9 from the table of 40 CFR 1065.602, beyond it by the
-- Cornish-Fisher expansion about the normal quantile (Abramowitz and Stegun 26.7.5, from memory), good to 1e-5.
CREATE MACRO t975(df) AS CASE
    WHEN df < 1 THEN NULL
    WHEN df < 10 THEN [12.706205, 4.302653, 3.182446, 2.776445, 2.570582, 2.446912, 2.364624, 2.306004, 2.262157][CAST(df AS INTEGER)]
    ELSE 1.959964 + 2.372271 / df + 2.822499 / (df * df) + 2.555850 / (df * df * df) + 1.589534 / (df * df * df * df) END;
