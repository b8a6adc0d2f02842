package rate

import "fmt"

func ExampleCount() {
	// The sixth press is doubled; the inhale at 24 s is not pressed.
	r, err := Count([]float64{0, 4, 8.1, 12, 16.2, 17, 20, 28.3})
	fmt.Printf("%.1f a minute, %.1f to %.1f, %v\n", r.Rate, r.RateLow, r.RateHigh, err)
	for _, v := range r.Intervals[4:] {
		fmt.Printf("%.1f s: %d breaths, %d extra\n", v.Length, v.Breaths, v.Extra)
	}
	// Output:
	// 14.8 a minute, 14.3 to 15.8, <nil>
	// 3.8 s: 1 breaths, 1 extra
	// 8.3 s: 2 breaths, 0 extra
}

func ExampleRecommend() {
	tried := []Stage{
		{Rate: 14, Comfort: []int{5}, Whole: true},
		{Rate: 7, Comfort: []int{8}, Whole: true},
		{Rate: 6, Comfort: []int{8}, Whole: true},
		{Rate: 5.5, Comfort: []int{6}, Whole: true},
	}
	_, why := LowestRate(tried)
	best, _ := Recommend(tried)
	fmt.Println(why)
	fmt.Printf("%g a minute, over %d breaths\n", best.Rate, TaperTo(14, best.Rate).Breaths)
	// Output:
	// comfort fell from 8 to 6 at 5.5 a minute
	// 7 a minute, over 15 breaths
}
