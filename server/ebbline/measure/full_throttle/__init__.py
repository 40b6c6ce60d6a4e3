"""What the car still gave at full throttle: settled speed, grade, power at the wheels and its fade.
Needs a run and the car's road load; never touches the recharge.
"""
