"""From fixes to distance: the Kalman smoother, the receiver's noise, standstill, gaps, covariance.
Needs one session's fixes and clocks; never touches readings, laps or energy.
"""
