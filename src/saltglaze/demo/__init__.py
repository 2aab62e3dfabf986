"""The invented job, and the renderer that films pipes whose truth is known exactly."""
