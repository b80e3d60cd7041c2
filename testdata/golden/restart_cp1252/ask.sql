SELECT count(DISTINCT run_id) AS runs, count(*) AS n, round(min(engine_speed_rpm), 1) AS lowest, round(max(coolant_c), 1) AS hottest, max(t_s) AS last FROM samples
