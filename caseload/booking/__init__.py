"""Booking: sessions and their slots, what a good appointment is, offers and what they cost, rehousing. Plain values."""
