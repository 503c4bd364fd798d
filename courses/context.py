"""Navigation for the templates; replaced as pages grow."""
