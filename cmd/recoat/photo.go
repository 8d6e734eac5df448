package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

type piecePhotoCommand struct {
	changeFlags
	ID     string `arg:"" name:"id" help:"The piece's id, such as p-0001."`
	File   string `arg:"" optional:"" help:"A JPEG or PNG of it." type:"path"`
	Remove bool   `help:"The piece has no photo any more."`
}

// Run keeps a photo of a piece.
func (c *piecePhotoCommand) Run(s *session) error {
	if (c.File == "") != c.Remove {
		return usage{errors.New("say either the photo's file, or --remove")}
	}
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		name := ""
		if c.File != "" {
			var err error
			if name, err = c.keep(); err != nil {
				return shop.Piece{}, err
			}
		}
		return j.EditPiece(ctx, c.ID, shop.PieceEdit{Photo: &name}, s.now())
	})
}

// keep puts the file into the folder of photos.
func (c *piecePhotoCommand) keep() (name string, err error) {
	_, at, err := c.folder()
	if err != nil {
		return "", err
	}
	f, err := os.Open(c.File)
	if err != nil {
		return "", fmt.Errorf("read the photo: %w", err)
	}
	defer func() { _ = f.Close() }() // it was only read
	name, err = photo.Folder(at.photos()).Put(f)
	var refused *photo.RefusedError
	if errors.As(err, &refused) {
		return "", usage{err}
	}
	return name, err
}
