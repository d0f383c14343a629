"""Numbers of OIML R 22 (1975): the density of ethanol-water mixtures.

Source: OIML, International Recommendation R 22, International Alcoholometric
Tables, 1975, general formula and its table of numerical coefficients; the same
formula stands in the annex of Council Directive 76/766/EEC.

With p the mass fraction of ethanol and d = t - 20 in °C, the density in kg/m³ is

    sum A[k] p^k  +  sum B[k] d^(k+1)  +  sum over i, k of C[i][k] p^(k+1) d^(i+1)

counted from 0. A test at 20 °C or at p = 0 cannot see an error in C.
"""

from __future__ import annotations

A: tuple[float, ...] = (
    998.20123,
    -192.9769495,
    389.1238958,
    -1668.103923,
    13522.15441,
    -88292.78388,
    306287.4042,
    -613838.1234,
    747017.2998,
    -547846.1354,
    223446.0334,
    -39032.85426,
)

B: tuple[float, ...] = (
    -0.20618513,
    -0.0052682542,
    3.6130013e-05,
    -3.8957702e-07,
    7.169354e-09,
    -9.9739231e-11,
)

C: tuple[tuple[float, ...], ...] = (
    (
        0.1693443461530087,
        -10.46914743455169,
        71.96353469546523,
        -704.7478054272792,
        3924.090430035045,
        -12101.64659068747,
        22486.46550400788,
        -26055.62982188164,
        18523.73922069467,
        -7420.201433430137,
        1285.617841998974,
    ),
    (
        -0.0119301300505701,
        0.2517399633803461,
        -2.170575700536993,
        13.53034988843029,
        -50.29988758547014,
        109.635566657757,
        -142.2753946421155,
        108.043594285623,
        -44.14153236817392,
        7.442971530188783,
    ),
    (
        -0.0006802995733503803,
        0.01876837790289664,
        -0.2002561813734156,
        1.02299296671922,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -0.5411227621436812,
    ),
    (
        4.075376675622027e-06,
        -8.76305857347111e-06,
        6.515031360099368e-06,
        -1.51578483698721e-06,
    ),
    (
        -2.788074354782409e-08,
        1.345612883493354e-08,
    ),
)

# Freezing points: mass fraction of ethanol and °C, lowest strength first.
# Source: Lange's Handbook of Chemistry, 15th ed., table 5.13, ethyl alcohol-water
# mixtures (the first point is water itself).
FREEZING: tuple[tuple[float, float], ...] = (
    (0.0, 0.0),
    (0.025, -1.0),
    (0.048, -2.0),
    (0.068, -3.0),
    (0.113, -5.0),
    (0.138, -6.1),
    (0.164, -7.5),
    (0.175, -8.7),
    (0.188, -9.4),
    (0.203, -10.6),
    (0.221, -12.2),
    (0.242, -14.0),
    (0.267, -16.0),
    (0.299, -18.9),
    (0.338, -23.6),
)
