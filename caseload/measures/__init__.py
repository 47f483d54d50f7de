"""What is measured of a hand, as values and sums. No framework, no clock: numbers in, numbers and bands out."""
