"""What is drawn over, or cut out of, a photograph: overlay, legend, crops."""
