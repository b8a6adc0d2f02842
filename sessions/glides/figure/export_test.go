package figure

// Wrist returns where the wrist is: to the side, up, forward.
func Wrist(p Pose) [3]float64 {
	w := skeletonOf(p).wrist
	return [3]float64{w.x, w.y, w.z}
}
