"""The physics of underfloor heating: pure functions on arrays of numbers.

SI units throughout; temperatures in °C, temperature differences in K. Every function broadcasts
its arguments, so the same one serves a single loop and ten thousand. A missing number is NaN and
gives NaN; so does a number outside the range for which a formula is stated. Nothing is raised and
nothing is extrapolated.

A coefficient or table marked "reported" was read in published works that cite the standard, not
in the standard itself.

A floor by the standard is in `floor`, over `floor_coefficient`, `floor_surface` and the tables in
`en_1264`. The same floor in section: `build_up` says what it is made of, `section_grid` fits a grid
to it, `conduction` solves grids, `section` solves it and states the error. To be quick, what is
around the pipe is solved once for all pipes and films (`section_around_pipe`, of a floor of one
material from the two parts of `section_in_parts`) and joined with each pipe (`section_with_pipe`);
`section_bounds` says between what the result must lie, `carried` interpolates for thousands of
draws, `mixed_section` puts spacings with and without a joist together.

Water is in `fluid`, `friction` and `film`; a loop with its floor in `balance`, loops that share
rooms in `shares`, loops on headers with pumps in `network` and `header`. Of pressure tests
`tightness` states priors and limits, `leak_fit` the model, over `leak`, `slackening` and
`instruments`.
"""
