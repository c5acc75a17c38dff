"""How far readings and papers may be off with nothing wrong, as standard deviations."""

SHARED = 0.5
"""Share of an instrument's variance that is common to all its readings; our convention, no
source.
"""
MODEL_ALIKE, MODEL_OWN = 0.02, 0.01
"""Error of the tables of EN 1264-2 as m²·K/W of covering, common to all floors and of a single
floor (standard deviations; our convention, no source).
"""
STEADY = 0.06
"""Deviation of a floor whose valve opens and shuts from the steady state, as a share of its heat;
our convention.
"""
BALANCED, PUMPED = 0.07, 0.07
"""Deviations of the settings of one valve, and of the pump, as shares of a flow; our convention."""
CURVE = 1.0
"""Deviation of a sound heating curve from what the weather needs, K; our convention."""
LOSES, BALANCE = 0.12, 0.10
"""Deviation of a room's loss, from its papers and the weather, as a share; our convention."""
NOT_COLD = 0.4
"""The same in a warm room, whose valve opens and shuts; our convention."""
MENDED = 0.8
"""A room may miss its temperature by this many K after its cause is mended; our convention."""
SURFACE = 0.5
"""Deviation of a mean surface from the model, besides the instrument's, K; our convention."""
GLYCOL = 0.03
"""Deviation of a mass fraction of glycol; our convention."""
MIXES = 0.3
"""A header's water may differ by this many K from the mean of its loops'; our convention."""
DISPLAY = 0.5
"""A thermostat with nothing wrong may show this many K other than its air; our convention."""
