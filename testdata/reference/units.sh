#!/bin/sh
# Makes units.csv: factors and offsets by GNU units (Debian package units), an independent library. Conventional mercury and water
# are by density, as in NIST SP 811. Usage: sh units.sh > units.csv
echo "unit,to,factor"
while IFS='|' read -r ours theirs to base; do
  printf '%s,%s,%s\n' "$ours" "$to" "$(units -t -d 15 "$theirs" "$base")"
done <<'LIST'
Pa|Pa|kPa|kPa
MPa|MPa|kPa|kPa
hPa|hPa|kPa|kPa
mbar|mbar|kPa|kPa
bar|bar|kPa|kPa
atm|atm|kPa|kPa
psi|psi|kPa|kPa
inHg|inHg|kPa|kPa
mmHg|mmHg|kPa|kPa
inH2O|inH2O|kPa|kPa
kgf/cm2|kgf/cm^2|kPa|kPa
krpm|1000 rpm|rpm|rpm
kN·m|kN m|N·m|N m
lb-ft|lbf ft|N·m|N m
lbf-in|lbf inch|N·m|N m
kgf·m|kgf m|N·m|N m
W|W|kW|kW
hp|horsepower|kW|kW
PS|metrichorsepower|kW|kW
mph|mph|km/h|km/hour
m/s|m/s|km/h|km/hour
ft/s|ft/s|km/h|km/hour
g/s|g/s|kg/h|kg/hour
kg/s|kg/s|kg/h|kg/hour
g/h|g/hour|kg/h|kg/hour
lb/min|lb/min|kg/h|kg/hour
lb/h|lb/hour|kg/h|kg/hour
L/min|L/min|L/h|L/hour
gal/h|gal/hour|L/h|L/hour
cm3/s|cm^3/s|L/h|L/hour
cm3/min|cm^3/min|L/h|L/hour
g|g|kg|kg
lb|lb|kg|kg
t|tonne|kg|kg
kN|kN|N|N
lbf|lbf|N|N
kgf|kgf|N|N
mm|mm|m|m
cm|cm|m|m
km|km|m|m
in|inch|m|m
ft|ft|m|m
cm3|cm^3|L|L
in3|in^3|L|L
kg/m3|kg/m^3|kg/L|kg/L
kJ/kg|kJ/kg|MJ/kg|MJ/kg
mV|mV|V|V
mA|mA|A|A
ms|ms|s|s
us|microsecond|s|s
ns|ns|s|s
min|min|s|s
h|hour|s|s
LIST
