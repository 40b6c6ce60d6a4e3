"""Laps from gate to gate, the check against the survey, and the known lap as a ruler.
Needs a track and the course; never touches energy or the car's display.
"""
