"""The density of the bucket's water."""

from reduction.errors import InputError

COLDEST_C, WARMEST_C = 0.0, 50.0


def water_density(celsius: float) -> float:
    """Density of air-free water [g/mL] at 101.325 kPa, from 0 to 50 °C.

    `ρ = (999.83952 + 16.945176 t − 7.9870401·10⁻³ t² − 46.170461·10⁻⁶ t³ + 105.56302·10⁻⁹ t⁴
    − 280.54253·10⁻¹² t⁵)/(1 + 16.879850·10⁻³ t)` kg/m³, t in °C. Source: G. S. Kell, J. Chem. Eng.
    Data 20 (1975) 97, coefficients from memory; within 0.004 kg/m³ of IAPWS-95 from 15 to 35 °C.
    Raises InputError outside its range. Example: 0.99754 g/mL at 23 °C.
    """
    if not COLDEST_C <= celsius <= WARMEST_C:
        raise InputError(
            "bucket_water.temperature_c",
            f"{celsius:g} °C is not the temperature of a bucket; expected {COLDEST_C:g} to "
            f"{WARMEST_C:g} °C. Check the unit.",
        )
    powers = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
    numerator = sum(factor * celsius**power for power, factor in enumerate(powers))
    return numerator / (1.0 + 16.879850e-3 * celsius) / 1000.0
