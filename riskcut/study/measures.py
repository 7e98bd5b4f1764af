"""The measures that the schema's numbers are read by: one unit and one set of bounds each."""

from __future__ import annotations

from typing import Annotated

from riskcut.study.measure import Measure
from riskcut.study.quantity import Quantity

Level = Annotated[Quantity, Measure("m", datum=True, example='3.2 or "3.2 m"')]
Chainage = Annotated[Quantity, Measure("m", example="120")]
Length = Annotated[Quantity, Measure("m", above=0, example='1.5 or "1500 mm"')]
Lowering = Annotated[Quantity, Measure("m", at_least=0, example="4.5")]
Area = Annotated[Quantity, Measure("m2", above=0, example="0.75")]
UnitWeight = Annotated[Quantity, Measure("kN/m3", above=0, at_most=40, example='17.5 or "17.5 kN/m3"')]
Strength = Annotated[Quantity, Measure("kPa", above=0, example='35 or "35 kPa"')]
StrengthGrowth = Annotated[Quantity, Measure("kPa/m", at_least=0, example='2.6 or "2.6 kPa/m"')]
Cohesion = Annotated[Quantity, Measure("kPa", at_least=0, example="5")]
Pressure = Annotated[Quantity, Measure("kPa", at_least=0, example='10 or "10 kPa"')]
Modulus = Annotated[Quantity, Measure("kPa", above=0, example='210e6 or "210 GPa"')]
Force = Annotated[Quantity, Measure("kN", above=0, example='6800 or "6.8 MN"')]
Angle = Annotated[Quantity, Measure("deg", above=0, at_most=60, example="34")]
Share = Annotated[Quantity, Measure("1", at_least=0, at_most=1, example="0.6")]
Ratio = Annotated[Quantity, Measure("1", above=0, example="1.0")]
Temperature = Annotated[Quantity, Measure("degC", example="12")]
Expansion = Annotated[Quantity, Measure("1/degC", above=0, at_most=1e-3, example="1.2e-5")]
Moment = Annotated[Quantity, Measure("kN m/m", above=0, example='1200 or "1.2 MN m/m"')]
Consolidation = Annotated[Quantity, Measure("m2/year", above=0, example='2 or "2 m2/year"')]
Permeability = Annotated[Quantity, Measure("m/s", above=0, at_most=1, example='1e-5 or "1e-5 m/s"')]
Flow = Annotated[Quantity, Measure("m3/h", at_least=0, example='40 or "40 m3/h"')]
Rain = Annotated[Quantity, Measure("mm/h", at_least=0, example='25 or "25 mm/h"')]
Hours = Annotated[Quantity, Measure("h", above=0, example='6 or "6 h"')]
