"""Line images and photos: closed parts, shadows, main colours."""
