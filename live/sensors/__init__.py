"""What treadmills and straps say of themselves over the air, read only; nothing is written."""
