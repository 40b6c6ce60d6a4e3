"""From stamps to true moments: each device's clock with its settings, and the delay of a tap.
Needs the session's stamps and fixes; never asks how far the car came.
"""
