package sessions

import (
	"glidepace/sessions/fields"
	"glidepace/sessions/glides/figure"
)

// drawing reads how a file's own glide is drawn; nil where it does not say.
func drawing(own *fields.Mapping) *figure.Figure {
	m := own.Mapping("figure", "{view: side, start: {elbow: 90}, end: {elbow: 10}}")
	if m == nil {
		return nil
	}
	defer m.Close()
	m.Need("view: side", "start: {elbow: 90}", "end: {elbow: 10}")
	f := &figure.Figure{
		View:    figure.View(m.Word("view", figure.Views...)),
		CloseUp: figure.View(m.Word("close_up", figure.CloseUps...)),
		Sitting: m.Word("sitting", "false", "true") == "true",
	}
	f.Start = pose(m, "start", figure.Pose{})
	f.End = pose(m, "end", f.Start)
	if back := pose(m, "back", f.Start); m.Has("back") {
		f.Back = &back
	}
	return f
}

// pose reads the angles of a pose; those that the file does not give are as in from.
func pose(m *fields.Mapping, key string, from figure.Pose) figure.Pose {
	angles := m.Mapping(key, "{elbow: 90, wrist: 0}")
	if angles == nil {
		return from
	}
	defer angles.Close()
	for _, j := range figure.Joints {
		angles.Number(j.Key, j.Least, j.Most, "degrees", j.Angle(&from))
	}
	return from
}
