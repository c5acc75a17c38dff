"""The symbols of the design's fields, as the worked calculation writes them.

Those of EN 1264-2 and EN 1264-3 where these have one (as reported); the rest are the usual ones.
A quantity's symbol stands with the quantity.
"""

SYMBOLS = {
    "designs": {
        "plant.supply": "θ_V,P",
        "plant.drop": "σ_P",
        "plant.primary_supply": "θ_V,0",
        "plant.fluid.mass_fraction": "w",
        "plant.outside": "θ_e",
        "project.floor_area": "A_G",
        "heat_up.started_on": "D_h",
    },
    "pipes": {
        "outside": "d_a",
        "wall": "s_R",
        "conductivity": "λ_R",
        "roughness": "k",
        "max_length": "L_R",
        "bend_radius": "r_b",
    },
    "floors": {
        "screed.cover": "s_u",
        "screed.conductivity": "λ_E",
        "screed.field_area": "A_f",
        "screed.field_length": "L_f",
        "screed.laid_on": "D_s",
        "insulation": "R_λ,ins",
        "below_temperature": "θ_u",
        "edge_strip": "s_e",
        "screed.humidity": "φ_E",
        "screed.moisture": "u_E",
        "load": "q_N",
        "slab_thickness": "s_B",
        "heat_coefficient": "K_H",
        "excess_limit": "Δθ_G",
    },
    "rooms": {
        "temperature": "θ_i",
        "area": "A_R",
        "heat_load": "Q̇_N",
        "covering.resistance": "R_λ,B",
        "covering.max_temperature": "θ_B,max",
        "other_heat": "Q̇_2",
        "covered_area": "A_v",
    },
    "headers": {
        "bore": "d_H",
        "height": "h_H",
        "own_loss": "Δp_own",
        "supply": "θ_V,H",
        "flow_setters.least": "V̇_least",
        "flow_setters.most": "V̇_most",
        "ports": "N",
    },
    "pump_curve": {"flow": "V̇_j", "head": "Δp_j"},
    "loops": {
        "spacing": "T",
        "area": "A",
        "length": "L",
        "feeds": "L_feeds",
        "flow": "V̇",
        "supply": "θ_V",
        "wall_gap": "a_w",
        "repaired_on": "D_r",
    },
    "loop_feeds": {"length": "L_f"},
    "parts": {"spacing": "T", "area": "A", "length": "L_f"},
    "pressure_tests": {
        "pressure": "p",
        "hold": "t_h",
        "operating_pressure": "p_op",
        "tested_on": "D_t",
        "after_screed": "n_S",
        "antifreeze": "f_F",
    },
    "readings": {"at": "t_j", "pressure": "p_j", "temperature": "θ_j"},
    "heat_up_steps": {"supply": "θ_j", "hold": "t_j"},
    "balance": {"flow": "V̇_m"},
}
"""For each table, the symbols of its fields."""
