# Makes gas.csv: properties of water and air by python3-iapws (Debian), an independent implementation of IAPWS's formulations of water (the
# Industrial Formulation 1997 and the one of 1995), of Lemmon and others' equations of state and transport of dry air, and of humid air as a
# mixture of both. One property a row: what, at_c, at_kpa, water (kg/kg of moist air), value, unit.
# Usage: /usr/bin/python3 gas.py > gas.csv
import warnings

warnings.filterwarnings("ignore")
from iapws import IAPWS95
from iapws.humidAir import Air, HumidAir
from iapws.iapws97 import _PSat_T


def row(what, c, kpa, water, value, unit):
    print("%s,%g,%g,%g,%.9g,%s" % (what, c, kpa, water, value, unit))


print("what,at_c,at_kpa,water,value,unit")
for c in (0.5, 5, 10, 15, 20, 25, 30, 35, 40, 60, 80, 100, 200, 300):
    row("saturation IF97", c, 0, 0, _PSat_T(c + 273.15) * 1000, "kPa")
for c in (5, 10, 15, 20, 25, 30, 35, 40, 60, 100, 200):
    row("saturation 1995", c, 0, 0, IAPWS95(T=c + 273.15, x=0).P * 1000, "kPa")
for c in (-20, 0, 25, 26.85, 50, 100, 150, 200, 300, 400, 500, 600, 700, 800, 900):
    air = Air(T=c + 273.15, P=0.1)
    row("cp", c, 100, 0, air.cp, "kJ/(kg K)")
    row("cp/cv", c, 100, 0, air.cp / air.cv, "1")
    row("viscosity", c, 100, 0, air.mu * 1e6, "uPa s")
    row("density", c, 100, 0, air.rho, "kg/m3")
row("molar mass", 25, 100, 0, Air.M, "g/mol")
for c, kpa, water in ((25, 100, 0.0099), (20, 98, 0.005), (35, 80, 0.02), (10, 101.325, 0.004)):
    moist = HumidAir(T=c + 273.15, P=kpa / 1000, W=water)
    row("moist density", c, kpa, water, moist.rho, "kg/m3")
