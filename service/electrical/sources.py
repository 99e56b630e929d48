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

# Amps a shop lets one core carry. Common practice; not a code table: local code and the maker's
# sheet win where they ask for less.
SHOP_LIMIT_A = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}

# Flexible cord, two conductors that carry current, amps by AWG. NFPA 70 (2017) Table 400.5(A)(1), column B.
# It says the most that may be typed in, never what is planned with.
AWG_CORD_LIMIT_A = {18: 10.0, 16: 13.0, 14: 18.0, 12: 25.0, 10: 30.0}

# Flexible cord, direct current or single phase, amps by nominal mm2. BS 7671 Table 4F3A.
FLEXIBLE_CORD_LIMIT_A = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
