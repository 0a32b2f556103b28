"""Breaks a real server in every way it must withstand, and prints what was promised beside what was found."""
