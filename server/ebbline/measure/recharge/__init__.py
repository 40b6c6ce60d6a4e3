"""The car on the charger: shown power and energy, trickle and full power, energy to each per cent.
Needs events and readings alone; never touches positions.
"""
