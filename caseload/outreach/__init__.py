"""What leaves the clinic: the plan sheet that a patient takes home, on paper or as a file."""
