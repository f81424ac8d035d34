from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0003_own_versions'),
    ]

    operations = [
        migrations.AddField(
            model_name='ensemble',
            name='music_grade',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Grade of the music it plays, a row of the grades table.', null=True),
        ),
    ]
