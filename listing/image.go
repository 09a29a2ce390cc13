package listing

import "romwright/rom"

// ImageChange tells in what two images differ. Addresses are those of the new
// image; cells that only one of the images has differ.
type ImageChange struct {
	Differing        int         // bytes
	Ranges           []rom.Range // rising
	Pages            int         // pages, counted from the chip's first cell, that hold a difference
	PageSize         int         // bytes
	OldSize, NewSize int         // bytes of the file
	OldUsed, NewUsed int         // cells that something was put into
}

// compareImages compares cell by cell, since a bare image does not know the
// address at which the CPU sees it.
func (r *Report) compareImages(page int) {
	a, b := r.Old.Image, r.New.Image
	im := &r.Image
	im.PageSize = page
	im.OldSize, im.NewSize = a.FileSize(), b.FileSize()
	im.OldUsed, im.NewUsed = a.Used(), b.Used()
	last := -1
	for i := range max(len(a.Data), len(b.Data)) {
		if i < len(a.Data) && i < len(b.Data) && a.Data[i] == b.Data[i] {
			continue
		}
		im.Differing++
		if n := len(im.Ranges); n > 0 && im.Ranges[n-1].Last == b.At+i-1 {
			im.Ranges[n-1].Last++
		} else {
			im.Ranges = append(im.Ranges, rom.Range{First: b.At + i, Last: b.At + i})
		}
		if i/page != last {
			last = i / page
			im.Pages++
		}
	}
	r.Same = im.Differing == 0 && im.OldSize == im.NewSize
}
