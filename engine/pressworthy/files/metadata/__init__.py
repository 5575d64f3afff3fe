"""Words in picture files: XMP, IPTC-IIM, EXIF and the ticket, read and written here alone."""
