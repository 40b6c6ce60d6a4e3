"""Energy from a recorder's voltage and current, independent of the display, and the two compared.
Needs an imported log; never bends the display's curve.
"""
