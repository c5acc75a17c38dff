"""Computes columns by name, on demand, with the reason where a number is missing.

`registry` knows every quantity, `naming` and `meanings` what a name means for a subject. `graph`
gives the column of a name (`columns`), looks up groups by `members` and `pumps`, and keeps what it
has computed (`kept`); `reasons` are why a number is missing. Floors in layers are in columns by a
number of that run (`numbered`). A graph that goes on from another (`settling`) takes over what does
not depend on it. `drawn` are columns that plans show, `formulas` a quantity as it is written by
hand.

Of data that are missing within a range (`ranges`), `boxes` judges copies of the design
(`variants`) all over the box of these, `certainty` says what of that is certain, `dependencies`
which designs need not be judged anew. `wanted` finds all data that a missing value needs.
"""
