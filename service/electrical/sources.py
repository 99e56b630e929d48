"""Constants of nature and of the trade, each with the text it comes from."""

# Annealed copper at 20 degC: 0.017241 ohm mm2/m. IEC 60028; NBS Handbook 100 (1966).
COPPER_RESISTIVITY_20C_OHM_M = 1.7241e-8

# Linear change of copper's resistance per kelvin, referred to 20 degC. IEC 60028; NBS Handbook 100.
COPPER_TEMP_COEFF_PER_K = 0.00393

# American wire gauge: 36 AWG is 5 thou, 4/0 is 460 thou, 39 equal ratios between. ASTM B258.
AWG_36_DIAMETER_M = 0.127e-3
AWG_RATIO = 92.0
AWG_STEPS = 39.0

# One circular mil: the area of a circle one thousandth of an inch across. pi/4 x (25.4e-6 m) squared.
CIRCULAR_MIL_M2 = 5.067074790974977e-10

# Greatest resistance at 20 degC of one core, plain copper, class 5 (flexible), ohm/km by nominal mm2.
# IEC 60228 Table 3. It is 13 to 16 % above resistivity over nominal area: the area is only a name.
CLASS_5_OHM_PER_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30}

# The same, tinned copper. IEC 60228 Table 3.
CLASS_5_TINNED_OHM_PER_KM = {0.5: 40.1, 0.75: 26.7, 1.0: 20.0, 1.5: 13.7, 2.5: 8.21, 4.0: 5.09}

# Class 1 (solid) and class 2 (stranded), plain copper. IEC 60228 Tables 1 and 2.
CLASS_1_OHM_PER_KM = {0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08}
CLASS_2_OHM_PER_KM = CLASS_1_OHM_PER_KM | {120.0: 0.153}

# Uncoated copper of seven strands at 75 degC, ohm/1000 ft by AWG. NFPA 70 (2017) Ch. 9 Table 8. The worst
# of them is 2.5 % above a solid core of that gauge.
SEVEN_STRAND_75C_OHM_PER_KFT = {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24}
SEVEN_STRAND_SURCHARGE = 1.025

# Two cores of flexible cord at 60 degC, millivolts for each ampere and each metre one way; the return is
# in the figure. BS 7671 Table 4F3B.
CORD_MV_PER_A_M = {0.5: 93.0, 0.75: 62.0, 1.0: 46.0, 2.5: 19.0, 4.0: 12.0}

# Volts a cord's loop loses for each circular mil: ohm x circular mil / ft. 12.9 for copper at 75 degC is the
# K of licence examinations (common practice); 10.75 is the boat builders' (ABYC E-11 as quoted publicly).
K_CODE_OHM_CMIL_PER_FT = 12.9
K_MARINE_OHM_CMIL_PER_FT = 10.75
FOOT_M = 0.3048

# Shares of the nominal volts that texts advise to lose at most. None is written for 5 to 24 V tape.
DROP_ADVICE = {
    "branch circuit": (0.03, "NFPA 70 (2017) 210.19(A) Informational Note 4; advice, not a rule"),
    "feeder and branch": (0.05, "NFPA 70 (2017) 215.2 Informational Note 2; advice, not a rule"),
    "lighting, public supply": (0.03, "BS 7671 Table 4Ab"),
    "other use, public supply": (0.05, "BS 7671 Table 4Ab"),
}

# Amps a shop lets one core carry. Common practice; not a code table: local code and the maker's
# sheet win where they ask for less.
SHOP_LIMIT_A = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}

# Flexible cord, two conductors that carry current, amps by AWG. NFPA 70 (2017) Table 400.5(A)(1), column B.
# It is also the most that may be typed in for a drum.
AWG_CORD_LIMIT_A = {18: 10.0, 16: 13.0, 14: 18.0, 12: 25.0, 10: 30.0}

# The same with three conductors that carry current, column A.
AWG_CORD_OF_THREE_LIMIT_A = {18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0, 10: 25.0}

# More than three that carry: most cores, share of the column for three. NFPA 70 (2017) Table 400.5(A)(3).
MANY_CORES_SHARE = ((3, 1.0), (6, 0.80), (9, 0.70), (20, 0.50))

# Fixture wire, amps by AWG; not smaller than 18. NFPA 70 (2017) Table 402.5 and 402.6.
FIXTURE_WIRE_LIMIT_A = {18: 6.0, 16: 8.0, 14: 17.0, 12: 23.0, 10: 28.0}

# Greatest overcurrent device on small copper, amps by AWG. NFPA 70 (2017) 240.4(D). 18 and 16 want specially
# marked breakers or fuses, or class CC, J or T fuses.
SMALL_WIRE_DEVICE_A = {18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0, 10: 30.0}

# Extra-hard-usage cord on a stage, amps by insulation degC and AWG, and its greatest overcurrent device.
# NFPA 70 (2017) Table 520.44(C)(3); (C)(2) in later editions.
STAGE_CORD_LIMIT_A = {75: {14: 24.0, 12: 32.0, 10: 41.0}, 90: {14: 28.0, 12: 35.0, 10: 47.0}}
STAGE_CORD_DEVICE_A = {14: 15.0, 12: 20.0, 10: 25.0}

# A load that lasts three hours takes at most 80 % of its fuse. NFPA 70 (2017) Art. 100, 210.20(A), 215.3.
CONTINUOUS_FACTOR = 1.25

# What is left in warm air: insulation degC, hottest air of the band, share of the 30 degC figure.
# NFPA 70 (2023) Table 310.15(B)(1)(1); 60 degC at 35, 45 and 55 BS 7671, flexible cords.
AMBIENT_SHARE = {
    60: {35: 0.91, 40: 0.82, 45: 0.71, 50: 0.58, 55: 0.41},
    75: {40: 0.88, 50: 0.75},
    90: {40: 0.91, 50: 0.82},
}

# Boats under 50 V, amps by insulation degC and AWG. 33 CFR 183.425 Table 5. More generous than the rest:
# a second opinion for low-voltage direct current, never a limit here.
BOAT_LIMIT_A = {
    60: {18: 10.0, 16: 15.0, 12: 25.0, 10: 40.0},
    90: {18: 20.0, 16: 25.0, 12: 40.0, 10: 55.0},
    105: {18: 20.0, 16: 25.0, 12: 45.0, 10: 60.0},
}

# Flexible cord, direct current or single phase, amps by nominal mm2. BS 7671 Table 4F3A.
FLEXIBLE_CORD_LIMIT_A = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.25: 13.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
