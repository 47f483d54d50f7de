"""The invented Fernhollow Hand Clinic: half a year of its life, played through the real acts."""
