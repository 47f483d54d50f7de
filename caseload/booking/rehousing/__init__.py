"""The best places for appointments that fell away, and for those who make room for them."""
