"""Writers: one file a format, a draft in, text out. Nothing here touches the disk."""
