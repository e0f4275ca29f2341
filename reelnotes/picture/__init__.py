"""In the picture: panels burned in, clips taken out, only the touched pictures coded again."""
