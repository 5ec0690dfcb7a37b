"""The lens and the motion, zone by zone of a frame."""
