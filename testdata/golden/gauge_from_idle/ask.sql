SELECT round(min(map_kpa), 2) AS lowest, round(max(map_kpa), 2) AS highest, round(max(boost_kpa), 2) AS boost FROM samples
