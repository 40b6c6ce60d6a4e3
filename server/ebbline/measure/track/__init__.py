"""From fixes to distance: the Kalman smoother, the receiver's noise, standstill, gaps, covariance.
Needs one session's fixes and clocks, and taps to tell whose fixes hold the drive; never touches
laps or energy.
"""
