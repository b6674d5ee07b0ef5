package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"stepcaller/narrator/demoshop"
	"stepcaller/narrator/journal"
)

func TestAnInventedShopIsMarkedAndSound(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	c := demoshop.DefaultConfig(time.Now())
	c.Months, c.Jobs = 1, 25
	shop, err := makeShop(t.Context(), dir, c)
	if err != nil {
		t.Fatal(err)
	}
	if !journal.Invented(dir) || journal.Invented(t.TempDir()) || len(shop.Memos) == 0 {
		t.Errorf("marked %v, %d memos", journal.Invented(dir), len(shop.Memos))
	}
	store, err := journal.Open(dir, journal.Reader)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	for _, f := range journal.Verify(t.Context(), store) {
		t.Error(f)
	}
	open, err := store.Jobs(t.Context(), journal.Filter{State: journal.OpenJobs})
	if err != nil || len(open) != 2 {
		t.Errorf("%d jobs are open, %v", len(open), err)
	}
	if info, err := os.Stat(filepath.Join(dir, filepath.FromSlash(shop.Memos[0].File))); err != nil || info.Size() < 1000 {
		t.Errorf("the first memo: %v, %v", info, err)
	}
	if code := run(t.Context(), []string{"demo-shop", "--data", dir}); code != exitUsage {
		t.Errorf("a folder with a journal: exit code %d", code)
	}
}
