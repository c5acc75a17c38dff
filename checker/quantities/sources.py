"""The sources that several quantities name."""

EN_1264_2 = "EN 1264-2:2021"
EN_1264_3 = "EN 1264-3:2021"
CONTINUITY = "conservation of mass"
SUM = "sum"
GEOMETRY = "geometry"
DRAWING = "the plan"
