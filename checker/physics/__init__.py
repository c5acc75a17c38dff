"""The physics of underfloor heating: pure functions on arrays of numbers.

SI units throughout; temperatures in °C, temperature differences in K. Every function broadcasts
its arguments, so the same one serves a single loop and ten thousand. A missing number is NaN and
gives NaN; so does a number outside the range for which a formula is stated. Nothing is raised and
nothing is extrapolated.

A coefficient or table marked "reported" was read in published works that cite the standard, not
in the standard itself.
"""
