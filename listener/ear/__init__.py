"""The ear: sound in, notes out. A live ear is a push object that knows no file, device, thread or clock."""
