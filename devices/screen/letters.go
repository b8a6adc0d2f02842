package screen

import "strings"

// Large letters are 5 dots wide and 7 high, the rows from the top separated
// by slashes. There are those that the large words need.
const (
	letterWidth  = 5
	letterHeight = 7
)

var letters = map[rune]string{
	'A': " ### /#   #/#   #/#####/#   #/#   #/#   #",
	'D': "#### /#   #/#   #/#   #/#   #/#   #/#### ",
	'E': "#####/#    /#    /#### /#    /#    /#####",
	'F': "#####/#    /#    /#### /#    /#    /#    ",
	'G': " ####/#    /#    /#  ##/#   #/#   #/ ### ",
	'H': "#   #/#   #/#   #/#####/#   #/#   #/#   #",
	'I': " ### /  #  /  #  /  #  /  #  /  #  / ### ",
	'L': "#    /#    /#    /#    /#    /#    /#####",
	'N': "#   #/##  #/##  #/# # #/#  ##/#  ##/#   #",
	'O': " ### /#   #/#   #/#   #/#   #/#   #/ ### ",
	'P': "#### /#   #/#   #/#### /#    /#    /#    ",
	'R': "#### /#   #/#   #/#### /# #  /#  # /#   #",
	'S': " ####/#    /#    / ### /    #/    #/#### ",
	'T': "#####/  #  /  #  /  #  /  #  /  #  /  #  ",
	'U': "#   #/#   #/#   #/#   #/#   #/#   #/ ### ",
	'X': "#   #/#   #/ # # /  #  / # # /#   #/#   #",
	'0': " ### /#   #/#   #/#   #/#   #/#   #/ ### ",
	'1': "  #  / ##  /  #  /  #  /  #  /  #  / ### ",
	'2': " ### /#   #/    #/ ### /#    /#    /#####",
	'3': "#### /    #/    #/ ### /    #/    #/#### ",
	'4': "   # /  ## / # # /#  # /#####/   # /   # ",
	'5': "#####/#    /#### /    #/    #/#   #/ ### ",
	'6': " ### /#   #/#    /#### /#   #/#   #/ ### ",
	'7': "#####/    #/   # /  #  /  #  /  #  /  #  ",
	'8': " ### /#   #/#   #/ ### /#   #/#   #/ ### ",
	'9': " ### /#   #/#   #/ ####/    #/#   #/ ### ",
	':': "     /  #  /  #  /     /  #  /  #  /     ",
}

// textWidth returns how many columns large text takes.
func textWidth(text string, scale int) int {
	return max(0, len(text)*(letterWidth+1)-1) * scale
}

// textRows returns how many rows large text takes.
func textRows(scale int) int { return (letterHeight*scale + 1) / 2 }

// large returns text in large letters. What has no letter is left blank.
func large(text string, scale int, p paint) []string {
	c := newCanvas(textWidth(text, scale), textRows(scale))
	for i, r := range text {
		for y, row := range strings.Split(letters[r], "/") {
			for x, dot := range row {
				if dot != '#' {
					continue
				}
				for k := range scale * scale {
					c.set((i*(letterWidth+1)+x)*scale+k%scale, y*scale+k/scale, plain)
				}
			}
		}
	}
	return c.lines(p)
}
