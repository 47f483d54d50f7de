"""Files to values and back: tables, theatre lists, refused rows. Bytes in, values out."""
