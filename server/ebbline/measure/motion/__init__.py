"""How the car moved: distance and speed against time, by positions, by its trip meter, or both.
Needs the track, its laps and the trip meter's readings; never touches energy.
"""
